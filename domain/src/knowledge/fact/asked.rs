//! Which facts may be missing, and which fact is asked for where one is.

use super::Fact;

impl Fact {
    /// Whether it may have no value; the others always have one.
    pub(in crate::knowledge) const fn may_be_unknown(self) -> bool {
        match self {
            Self::MaterialKey | Self::SurveyAsbestos | Self::SurveyLead | Self::SurveyMixed => {
                false
            }
            Self::WishFinish
            | Self::FilmCoatedH
            | Self::SurveyZone
            | Self::SurveyWoodMoisturePct
            | Self::SurveyProfile
            | Self::SurveyJoints
            | Self::SurveyMoistureMethod
            | Self::SurveyWater
            | Self::SurveyPower
            | Self::SurveyRcd
            | Self::SurveySlurryTo
            | Self::MakerWettest
            | Self::MakerPhMin
            | Self::MakerPhMax
            | Self::MakerFinish
            | Self::ProcessNeutraliserPh
            | Self::ProcessApplyMinC
            | Self::ProcessApplyMaxC
            | Self::ProcessHumidityMaxPct
            | Self::PlanWindowMin
            | Self::PlanFilmC
            | Self::ProcessMachineGradientPct
            | Self::PlanRinses
            | Self::PlanRinsesNeeded
            | Self::PlanNeutraliserPhInWater
            | Self::PlanVocMgM3
            | Self::PlanVocLimitMgM3
            | Self::PlanSlurryPh
            | Self::ProcessVocGL
            | Self::ProcessVocLimitGL
            | Self::PlanHumidityPeakPct
            | Self::PlanFurnitureWaitMin
            | Self::PlanWetCleanWaitMin => true,
            _ => self.asked().is_some(),
        }
    }

    /// The fact that is asked for where this one is missing: itself, or what it is worked out from; `None` for what no
    /// survey can tell.
    pub const fn asked(self) -> Option<Self> {
        Some(match self {
            Self::FilmPresent | Self::FilmPolish | Self::FilmWax => Self::FilmKind,
            Self::FilmCoatsRecoated | Self::PlanTotalCoats => Self::FilmCoats,
            Self::SurveyPtvOnLevel => Self::SurveyPtvWet,
            Self::SurveyMayBeNew => Self::SurveyBuiltYear,
            Self::MaterialKey
            | Self::SurveyAsbestos
            | Self::SurveyBuiltYear
            | Self::SurveyBlackAdhesive
            | Self::SurveyPerimeterM
            | Self::SurveyTraffic
            | Self::SurveySoil
            | Self::SurveyObstruction
            | Self::SurveyFloorAgeH
            | Self::SurveyMoistureRhPct
            | Self::SurveyPtvWet
            | Self::SurveyVentilation
            | Self::SurveyIgnitionSource
            | Self::SurveyGlossLossPct
            | Self::SurveyHeritageConsent
            | Self::SurveyWearLayerMm
            | Self::SurveyResidue
            | Self::SurveyLead
            | Self::SurveyMixed
            | Self::ArrangedMachineGradientPct
            | Self::FilmKind
            | Self::FilmCoats
            | Self::FilmCondition => self,
            _ => return None,
        })
    }
}
