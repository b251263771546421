//! What is missing in the figures of programmes, or cannot be.

use super::{BUFF, ProgrammeFigures, RECOAT, STRIP, TrafficWear, kept};
use crate::{
    knowledge::{KnowledgeBase, film::in_order},
    survey::{FilmCondition, FilmKind, Soil, Traffic},
};

impl ProgrammeFigures {
    /// Everything that is missing or cannot be.
    pub(in crate::knowledge) fn faults(&self, base: &KnowledgeBase) -> Vec<String> {
        let mut faults = Vec::new();
        let mut need = |holds: bool, what: String| {
            if !holds {
                faults.push(format!("programme: {what}"));
            }
        };
        let share = 0.0..=1.0;
        let gloss = &self.gloss;
        need(
            0.0 <= gloss.worn_gu
                && gloss.worn_gu < gloss.target_gu
                && gloss.target_gu < gloss.new_gu,
            "gloss: worn_gu < target_gu < new_gu".to_owned(),
        );
        need(
            share.contains(&gloss.recoat_share)
                && share.contains(&gloss.buff_restores)
                && gloss.buff_um >= 0.0
                && self.film.coat_um > 0.0,
            "gloss, film: shares from 0 to 1, µm not below 0".to_owned(),
        );
        let words: Vec<&str> = Traffic::ALL.iter().map(|word| word.word()).collect();
        let keys: Vec<&str> = self.traffic.iter().map(|row| row.key.as_str()).collect();
        need(
            words == keys,
            format!("traffic: one row for each of {words:?}, in that order"),
        );
        need(
            self.traffic.iter().all(|row| {
                row.passes_per_day > 0.0
                    && row.passes_per_day <= row.up_to_per_day
                    && row.film_um_per_kpass > 0.0
                    && row.gloss_kpass > 0.0
            }) && self
                .traffic
                .is_sorted_by(|one, other| one.up_to_per_day < other.up_to_per_day),
            "traffic: figures above 0, classes in the order of their passes".to_owned(),
        );
        let a_day = |row: &TrafficWear| {
            let passes = row.passes_per_day;
            (passes * row.film_um_per_kpass, passes / row.gloss_kpass)
        };
        need(
            self.traffic.is_sorted_by(|one, other| {
                let (one, other) = (a_day(one), a_day(other));
                one.0 <= other.0 && one.1 <= other.1
            }),
            "traffic: a heavier class wears more of film and gloss in a day".to_owned(),
        );
        let curve = &self.matting.curve;
        need(
            curve
                .first()
                .is_some_and(|[length, kept]| *length == 0.0 && *kept == 0.0)
                && curve.is_sorted_by(|one, other| one[0] < other[0] && one[1] <= other[1])
                && curve.iter().all(|[_, kept]| share.contains(kept))
                && kept(curve, self.matting.usual_m) > 0.0
                && self.matting.unmatted_wear >= 1.0,
            "matting: from [0, 0] upwards, shares from 0 to 1".to_owned(),
        );
        let soils = Soil::ALL.iter().map(|soil| self.soil.wear.get(soil.word()));
        need(
            soils
                .into_iter()
                .all(|wear| wear.is_some_and(|wear| *wear > 0.0)),
            "soil: wear of each word above 0".to_owned(),
        );
        faults.extend(self.faults_of_terms(base));
        faults
    }

    /// What is wrong with doubts, limits and actions.
    fn faults_of_terms(&self, base: &KnowledgeBase) -> Vec<String> {
        let mut faults = Vec::new();
        let mut need = |holds: bool, what: String| {
            if !holds {
                faults.push(format!("programme: {what}"));
            }
        };
        let share = 0.0..=1.0;
        let doubt = &self.doubt;
        // Three nodes at 1 - √3 σ, 1 and 1 + √3 σ stand for the months; none may bring film back.
        need(
            (0.0..=0.55).contains(&doubt.month),
            "doubt: month from 0 to 0.55".to_owned(),
        );
        need(
            [
                doubt.reading_gu,
                doubt.reading_ptv,
                doubt.new_gu,
                doubt.unknown_gu,
                doubt.loss,
                doubt.film,
            ]
            .iter()
            .all(|sigma| *sigma > 0.0)
                && doubt.drift_gu2 >= 0.0
                && doubt.drift_loss >= 0.0,
            "doubt: deviations above 0".to_owned(),
        );
        need(
            self.grip.least_ptv > 0.0 && (0..=365).contains(&self.grip.same_days),
            "grip: least_ptv above 0, same_days from 0 to 365".to_owned(),
        );
        need(
            share.contains(&self.service.below_share),
            "service: below_share".to_owned(),
        );
        faults.extend(self.faults_of_actions(base));
        faults
    }

    /// What is wrong with films and actions.
    fn faults_of_actions(&self, base: &KnowledgeBase) -> Vec<String> {
        let mut faults = Vec::new();
        let mut need = |holds: bool, what: String| {
            if !holds {
                faults.push(format!("programme: {what}"));
            }
        };
        for film in [FilmKind::Polish, FilmKind::SealAndPolish] {
            for key in [BUFF, RECOAT, STRIP] {
                let what = format!("action {key} on {}", film.word());
                need(self.action(key, film).is_some(), what);
            }
        }
        for row in &self.action {
            let key = &row.key;
            let known = [BUFF, RECOAT, STRIP].contains(&key.as_str())
                && FilmCondition::of(&row.condition).is_some()
                && row.films.iter().all(|film| FilmKind::of(film).is_some());
            need(
                known,
                format!("action {key}: its word, films and condition"),
            );
            for process in &row.processes {
                let known = base.process(process).is_some();
                need(
                    known,
                    format!("action {key}: no process is named {process}"),
                );
            }
        }
        for row in &self.coating {
            let film = &row.film;
            let renewed =
                FilmKind::of(film).is_some_and(|kind| self.action(RECOAT, kind).is_some());
            need(renewed, format!("coating {film}: a film that is renewed"));
            let sound = row.least_coats > 0.0
                && row.hand_back_coats >= row.least_coats
                && row.renewal_coats.is_none_or(|coats| coats > 0.0)
                && row
                    .left
                    .iter()
                    .all(|(word, coats)| FilmCondition::of(word).is_some() && in_order(coats));
            need(sound, format!("coating {film}: coats above 0, conditions"));
        }
        faults
    }
}
