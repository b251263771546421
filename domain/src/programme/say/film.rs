//! What is said of films other than polish: that only their thickness is followed, and who would wear them through.

use super::{Programme, Said, Speech, pct};
use crate::knowledge::Severity;

impl Speech<'_> {
    /// How shares of months change; nothing where gloss is not followed.
    pub(super) fn shares(&self, what: &str, (from, to): (&Programme, &Programme)) -> String {
        let shares = self.of.look.as_ref().map(|_| {
            let (from, to) = (pct(from.below_share()), pct(to.below_share()));
            format!("{what} from {from} to {to}")
        });
        shares.unwrap_or_default()
    }

    pub(super) fn of_film(&self, said: &mut Vec<Said>, month: &impl Fn(usize) -> String) {
        let least = self.of.least_coats;
        let Some(row) = self.base.programme.coating(self.of.film) else {
            return;
        };
        let mut say = |(code, severity), statement: String, clears| {
            said.push(Said {
                code,
                severity,
                statement,
                clears,
                source: row.source.clone(),
                grade: row.grade,
            });
        };
        let statement = format!(
            "Of this film only its thickness and the grip are followed: never less than {least} coat(s) in the lane. How it looks as it wears, and what new coats do to the grip, is not known here."
        );
        let clears =
            "Look at it as often as `GET /v1/due` asks, and read the grip after each new coat.";
        say(("look_not_followed", Severity::Note), statement, clears);
        let grips = self
            .of
            .grip
            .is_none_or(|grip| grip.ptv >= self.base.programme.grip.least_ptv);
        if self.of.best.is_none() && grips {
            let statement = format!(
                "The film may be thinner than {least} coat(s), and nothing that the rules allow then brings it back: no programme is offered, at whatever price."
            );
            let clears = "Record an observation of the film with its coats, or ask for a plan with the goal `restore`.";
            say(("film_lost", Severity::Refuse), statement, clears);
        }
        let codes = [
            "leave_wears_through",
            "fixed_wears_through",
            "longer_wears_through",
        ];
        for (code, (what, programme)) in codes.into_iter().zip(self.others()) {
            if let Some((from, most)) = programme.and_then(|one| one.thin_from) {
                let statement = format!(
                    "{what}: not allowed. From {} on less than {least} coat(s) may be left in the lane, with a chance of up to {}.",
                    month(from),
                    pct(most)
                );
                let clears = "No price makes up for it: what lies below would wear.";
                say((code, Severity::Warn), statement, clears);
            }
        }
    }
}
