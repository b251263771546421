//! What lies on a floor, on the wire.

use domain::{film::Told, survey};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wire::words::{FilmCondition, FilmKind};

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

    pub(super) fn film(&self) -> survey::Film {
        survey::Film {
            kind: self.kind.known(),
            coats: self.coats,
            condition: self.condition.map(Into::into),
        }
    }
}
