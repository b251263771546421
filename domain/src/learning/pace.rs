//! From the hours that a completion reports to the rates that they tell of.
//!
//! Hours are reported by stage and not by activity, for a floor that has its furniture, soil and size. A plan reckons all
//! that in; so what is compared is reckoned hours with reported ones, and every activity of the stage is taken to have
//! gone faster or slower by the same factor. Its word counts by its part of the stage's hours: what took three minutes of
//! a night tells next to nothing.

/// The working time from which on a job has its whole word, in hours. Common practice, no published source.
const WHOLE_WORD_H: f64 = 0.5;

/// What a plan reckons for one activity of a stage.
#[derive(Debug, Clone, PartialEq)]
pub struct Reckoned {
    /// The activity.
    pub activity: String,
    /// The rate it was reckoned at, before what slows it, per operative and hour.
    pub per_h: f64,
    /// The hours that this came to for what was done, all operatives together.
    pub hours: f64,
}

/// What a stage's hours tell of one of its activities.
#[derive(Debug, Clone, PartialEq)]
pub struct Pace {
    /// The activity.
    pub activity: String,
    /// The rate, before what slows it, at which the hours would have been those that were reported.
    pub per_h: f64,
    /// How much of a whole job's word it has, above 0 and up to 1.
    pub share: f64,
}

/// What `reported` hours of all operatives tell of the activities of one stage; nothing where no hours were reckoned or
/// reported.
///
/// `paid` is how many hours are paid for each that is reckoned: reported hours hold rest, set-up and clean-down, which a plan
/// adds to its working time. Below 1 it is taken as 1.
pub fn paces(reckoned: &[Reckoned], paid: f64, reported: f64) -> Vec<Pace> {
    let whole: f64 = reckoned.iter().map(|line| line.hours).sum();
    let is_positive = |value: f64| value.is_finite() && value > 0.0;
    if !is_positive(whole) || !is_positive(reported) {
        return Vec::new();
    }
    let faster = whole * paid.max(1.0) / reported;
    let word = (reported / WHOLE_WORD_H).min(1.0);
    let told = reckoned.iter().filter(|line| is_positive(line.hours));
    told.map(|line| Pace {
        activity: line.activity.clone(),
        per_h: line.per_h * faster,
        share: word * line.hours / whole,
    })
    .collect()
}
