//! What readings of gloss tell of a floor: its gloss and the gloss it loses with traffic, by a Kalman filter.
//!
//! Gloss is in gloss units at 60°, traffic in thousands of passes, the loss in gloss units per thousand passes.

/// How uncertain readings and wear are: variances, all greater than or equal to nought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// By which gloss strays per thousand passes, in units².
    pub gloss_per_kpass: f64,
    /// By which the loss strays per thousand passes.
    pub loss_per_kpass: f64,
    /// Of one reading, in units²; greater than nought.
    pub reading: f64,
}

/// Gloss and its loss, and how well both are known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GlossState {
    /// Gloss in units.
    pub gloss: f64,
    /// Units lost per thousand passes.
    pub loss: f64,
    /// Variance of the gloss.
    pub gloss_variance: f64,
    /// Covariance of gloss and loss.
    pub covariance: f64,
    /// Variance of the loss.
    pub loss_variance: f64,
}

/// What became of a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Taken {
    /// It agreed with what was expected and counts.
    Counted(GlossState),
    /// It lies more than four standard deviations off: nothing was learnt from it, and somebody should read again.
    Unlikely {
        /// How many standard deviations it lies off, below nought where too low.
        off_by: f64,
    },
}

/// Readings further off than so many standard deviations do not count.
const GATE: f64 = 4.0;

impl GlossState {
    /// The state once `kpasses` thousand passes brought the gloss to `gloss`, where a unit of gloss more before would have made
    /// `own` more of it, and a unit of loss more `cross`: the prediction of the filter.
    #[must_use]
    pub fn carried(
        self,
        gloss: f64,
        [own, cross]: [f64; 2],
        (kpasses, noise): (f64, &Noise),
    ) -> Self {
        Self {
            gloss,
            loss: self.loss,
            gloss_variance: own * own * self.gloss_variance
                + 2.0 * own * cross * self.covariance
                + cross * cross * self.loss_variance
                + noise.gloss_per_kpass * kpasses,
            covariance: own * self.covariance + cross * self.loss_variance,
            loss_variance: self.loss_variance + noise.loss_per_kpass * kpasses,
        }
    }

    /// The state after `kpasses` thousand passes more on a floor whose gloss falls from new towards its dullest as an exponential does.
    ///
    /// The loss is that of a new floor and shrinks with the gloss above the dullest. Variances follow the slope of the curve (an
    /// extended Kalman filter).
    #[must_use]
    pub fn worn(self, kpasses: f64, (new_gu, worn_gu): (f64, f64), noise: &Noise) -> Self {
        let span = new_gu - worn_gu;
        let above = (self.gloss - worn_gu).max(0.0);
        let loss = self.loss.max(0.0);
        let kept = (-loss * kpasses / span).exp();
        let by_loss = -above * kept * kpasses / span;
        Self { loss, ..self }.carried(worn_gu + above * kept, [kept, by_loss], (kpasses, noise))
    }

    /// The state with a reading of its gloss, in Joseph's form, which keeps variances from falling below nought.
    pub fn with_reading(self, gloss: f64, noise: &Noise) -> Taken {
        let spread = self.gloss_variance + noise.reading;
        let missed = gloss - self.gloss;
        let off_by = missed / spread.sqrt();
        if off_by.abs() > GATE {
            return Taken::Unlikely { off_by };
        }
        let [gain, drag] = [self.gloss_variance / spread, self.covariance / spread];
        let kept = 1.0 - gain;
        Taken::Counted(Self {
            gloss: self.gloss + gain * missed,
            loss: self.loss + drag * missed,
            gloss_variance: kept * kept * self.gloss_variance + gain * gain * noise.reading,
            covariance: kept * (self.covariance - drag * self.gloss_variance)
                + gain * drag * noise.reading,
            loss_variance: self.loss_variance - 2.0 * drag * self.covariance + drag * drag * spread,
        })
    }
}
