//! What lies on a floor, on the wire.

use chrono::{DateTime, Utc};
use domain::{film::Told, survey};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wire::{
    time,
    words::{FilmCondition, FilmKind},
};

/// What lies on a floor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"kind": "polish", "coats": 4, "condition": "worn"}))]
pub(crate) struct Film {
    /// Its kind.
    pub(crate) kind: FilmKind,
    /// Coats of polish, if anybody counted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 50)]
    pub(crate) coats: Option<i64>,
    /// Its condition, if anybody looked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) condition: Option<FilmCondition>,
}

impl Film {
    /// What it says as a word about the film.
    pub(crate) fn told(&self) -> Told {
        let film = self.film();
        Told {
            kind: film.kind,
            coats: film.coats,
            condition: film.condition,
            ..Told::default()
        }
    }

    fn film(&self) -> survey::Film {
        survey::Film {
            kind: self.kind.known(),
            coats: self.coats,
            condition: self.condition.map(Into::into),
        }
    }
}

/// What lay on a floor when it was surveyed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"kind": "polish", "coats": 4, "condition": "worn", "seen_at": "2026-05-04T09:00:00Z"}))]
pub(crate) struct SurveyedFilm {
    /// Its kind.
    pub(crate) kind: FilmKind,
    /// Coats of polish, if anybody counted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, minimum = 0, maximum = 50)]
    pub(crate) coats: Option<i64>,
    /// Its condition, if anybody looked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub(crate) condition: Option<FilmCondition>,
    /// When somebody looked: from the year 2000, at most 24 hours from now. Work that ended later changes the film, work
    /// that ended earlier does not, whenever either is told: a survey that is older than work which is known needs its date.
    /// Left out, it is the moment of the call, or stays as it was if the film is said to be what it was said to be before.
    /// Each new date keeps an observation of its own; a wrong one is put right by superseding that observation.
    #[serde(
        default,
        skip_serializing_if = "Option::is_none",
        serialize_with = "time::write_option"
    )]
    #[schema(nullable = false, value_type = String, format = DateTime, max_length = 40)]
    pub(crate) seen_at: Option<DateTime<Utc>>,
}

impl SurveyedFilm {
    /// What it says as a word about the film.
    pub(crate) fn told(&self) -> Told {
        self.undated().told()
    }

    pub(super) fn film(&self) -> survey::Film {
        self.undated().film()
    }

    const fn undated(&self) -> Film {
        Film {
            kind: self.kind,
            coats: self.coats,
            condition: self.condition,
        }
    }
}
