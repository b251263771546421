//! What a state rests on, in words.

use super::{
    Coats, Contradiction, EntryId, Floor, Ground, Word,
    entry::Told,
    layers::{Denied, Laid},
};
use crate::{
    knowledge::{Process, Takes},
    survey::{FilmCondition, FilmKind},
};
use chrono::{DateTime, Utc};

fn words(text: &str) -> String {
    text.replace('_', " ")
}

fn range(coats: Coats) -> String {
    let Coats { low, likely, high } = coats;
    if coats.width() < 0.05 {
        format!("{likely:.0}")
    } else {
        format!("{low:.1} to {high:.1}, likely {likely:.1}")
    }
}

/// What was said.
pub(super) fn told(word: Word, told: &Told) -> String {
    let mut parts = vec![told.kind.map_or_else(
        || "kind not said".to_owned(),
        |kind: FilmKind| words(kind.word()),
    )];
    if let Some(count) = told.coats {
        parts.push(format!("{count} coats of polish"));
    }
    if let Some(count) = told.seal_coats {
        parts.push(format!("{count} coats of seal"));
    }
    if let Some(condition) = told.condition {
        parts.push(FilmCondition::word(condition).to_owned());
    }
    if let Some(day) = told.stripped_on {
        parts.push(format!("last stripped on {day}"));
    }
    format!("{}: {}.", words(word.word()), parts.join(", "))
}

/// What was done.
pub(super) fn done(process: &Process, laid: Laid, whole: bool) -> String {
    let took = match process.film.takes {
        Takes::Nothing => "took nothing off".to_owned(),
        Takes::All => "took the film off".to_owned(),
        Takes::Polish => "took the polish off".to_owned(),
        Takes::Coats([low, likely, high]) => {
            format!("took off {} coats", range(Coats { low, likely, high }))
        }
    };
    let mut parts = vec![took];
    for (name, coats) in [("seal", laid.seal), ("polish", laid.polish)] {
        if coats.high > 0.0 {
            let (coats, word) = (range(coats), laid.word.word());
            parts.push(format!("laid {coats} coats of {name} ({word})"));
        }
    }
    if !whole {
        parts.push("on a part of the floor so far".to_owned());
    }
    format!("{}: {}.", process.name, parts.join(", "))
}

/// That time was taken off.
pub(super) fn wear(floor: Floor<'_>, at: DateTime<Utc>, kind: Option<FilmKind>) -> Option<Ground> {
    let figures = &floor.base.film;
    let (name, rates) = match kind? {
        FilmKind::Polish | FilmKind::SealAndPolish => ("polish", &figures.polish_wear),
        FilmKind::Seal => ("seal", &figures.seal_wear),
        FilmKind::Bare | FilmKind::FactoryFinish | FilmKind::WaxOrOil => return None,
    };
    let traffic = floor.traffic();
    let [least, likely, most] = rates.get(traffic)?;
    let half_life = figures.half_life_days.get(traffic)?;
    let presumed = if floor.traffic.is_some() {
        ""
    } else {
        ", which nobody told"
    };
    let statement = format!(
        "Wear of {name} under {} traffic{presumed}: {least} to {most} coats a year, likely {likely}; confidence halves \
         in {half_life} days.",
        words(traffic)
    );
    Some(Ground {
        entry: None,
        at,
        word: None,
        statement,
        source: Some(figures.source.clone()),
    })
}

/// That a word denies what was known.
pub(super) fn denied(entry: EntryId, denied: Denied) -> Contradiction {
    let (code, statement) = match denied {
        Denied::Kind(known, said) => (
            "kind_differs",
            format!(
                "By what went before the film is {}; here it is {}.",
                words(known.word()),
                words(said.word())
            ),
        ),
        Denied::Coats(known, said) => (
            "coats_differ",
            format!(
                "By what went before there are {} coats of polish; here there are {said}.",
                range(known)
            ),
        ),
    };
    Contradiction {
        code,
        statement,
        entry,
    }
}

/// That work does not fit with the film that it was done on.
pub(super) fn unfit(
    entry: EntryId,
    process: &Process,
    kind: Option<FilmKind>,
    laid: Laid,
) -> Option<Contradiction> {
    let name = &process.name;
    let (code, statement) = match kind? {
        FilmKind::Bare if process.recoat && laid.any() => (
            "recoat_on_bare",
            format!("{name}: reported on a floor that was bare by what went before."),
        ),
        FilmKind::Bare if process.strips => (
            "strip_of_bare",
            format!("{name}: reported on a floor that was bare by what went before."),
        ),
        FilmKind::WaxOrOil if laid.any() && process.film.takes != Takes::All => (
            "coat_on_wax",
            format!("{name}: coats reported on wax or oil, on which they do not hold."),
        ),
        _ => return None,
    };
    Some(Contradiction {
        code,
        statement,
        entry,
    })
}
