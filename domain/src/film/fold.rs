//! One pass over the entries in their order.

use chrono::{DateTime, NaiveTime, TimeDelta, Utc};

use super::{
    Contradiction, Entry, EntryId, Event, Floor, Ground, State, Told, Word,
    entry::Job,
    layers::{Laid, Layers},
    say,
};
use crate::{
    id::PlanId,
    knowledge::{Process, Takes},
    quantity::{Area, float},
};

/// A floor counts as done when no more than a thousandth of it is missing: areas are rounded.
const WHOLE_OF_1000: i64 = 999;

/// The state while entries are taken in.
pub(super) struct Fold<'a> {
    floor: Floor<'a>,
    /// Up to when wear was taken off.
    since: DateTime<Utc>,
    layers: Layers,
    confidence: f64,
    /// When the condition was last said.
    condition_at: DateTime<Utc>,
    stripped: Option<(DateTime<Utc>, EntryId)>,
    coated: Option<(DateTime<Utc>, EntryId)>,
    contradictions: Vec<Contradiction>,
    basis: Vec<Ground>,
    part: Option<Part>,
}

/// A job that is done on a part of the floor so far.
struct Part {
    key: (Option<PlanId>, String),
    last: DateTime<Utc>,
    done: Area,
    /// What lay there before it.
    before: Layers,
}

impl<'a> Fold<'a> {
    /// Nothing is known yet.
    pub(super) fn new(floor: Floor<'a>, start: DateTime<Utc>) -> Self {
        Self {
            floor,
            since: start,
            layers: Layers::default(),
            confidence: 0.0,
            condition_at: start,
            stripped: None,
            coated: None,
            contradictions: Vec::new(),
            basis: Vec::new(),
            part: None,
        }
    }

    /// Takes in what comes next.
    pub(super) fn take(&mut self, entry: &Entry) {
        self.pass_to(entry.at);
        match &entry.event {
            Event::Told(word, told) => self.tell(entry, *word, told),
            Event::Done(job) => {
                if let Some(process) = self.floor.base.process(&job.process) {
                    self.work(entry, process, job);
                }
            }
        }
    }

    /// Lets time pass: films wear, and what is known becomes less sure.
    fn pass_to(&mut self, to: DateTime<Utc>) {
        let days = float(to.signed_duration_since(self.since).num_seconds()) / 86_400.0;
        self.layers = self.layers.worn(self.floor, days);
        if let Some(part) = &mut self.part {
            part.before = part.before.worn(self.floor, days);
        }
        self.confidence *= (-days / self.half_life()).exp2();
        self.since = to;
    }

    fn half_life(&self) -> f64 {
        let days = &self.floor.base.film.half_life_days;
        days.get(self.floor.traffic()).copied().unwrap_or(180.0)
    }

    fn tell(&mut self, entry: &Entry, word: Word, told: &Told) {
        let trust = self.floor.base.film.trust(word);
        let denied = self.layers.denied_by(told, trust);
        if told.kind.is_some() {
            // Somebody looked: what did not fit before is settled by what they say.
            self.contradictions.clear();
            self.part = None;
        }
        let known = self.layers.kind.is_some();
        let same = told.kind.is_none() || told.kind == self.layers.kind;
        let settled = Layers::settled_by(told);
        if settled {
            self.forget();
        }
        // A word that leaves the count open makes a film that is known no surer.
        if settled || (told.kind.is_some() && !(known && same)) {
            self.confidence = trust.confidence;
        }
        self.layers = self.layers.told(told, trust);
        if told.condition.is_some() {
            self.condition_at = entry.at;
        }
        if let Some(denied) = denied {
            self.contradictions.push(say::denied(entry.id, denied));
        }
        if let Some(day) = told.stripped_on {
            let moment = day.and_time(NaiveTime::MIN).and_utc().min(entry.at);
            if self.stripped.is_none_or(|(known, _)| known < moment) {
                self.stripped = Some((moment, entry.id));
            }
        }
        self.rest_on(entry, word, say::told(word, told));
    }

    fn work(&mut self, entry: &Entry, process: &Process, job: &Job) {
        let laid = Laid::of(self.floor, process, job);
        let (before, whole, mostly) = self.before(entry.at, job);
        self.contradictions.retain(|c| c.code != "part_only");
        let after = before.after(process, laid);
        let trust = self.floor.base.film.trust(laid.word).confidence;
        let strips = process.film.takes == Takes::All;
        if whole && strips {
            self.contradictions.clear();
            self.forget();
            self.stripped = Some((entry.at, entry.id));
            self.confidence = trust;
        } else if before.kind.is_some() {
            self.confidence = self.confidence.min(trust);
        } else {
            // What lies below the new coats is not known.
            let usual = self.floor.base.film.trust(Word::Usual).confidence;
            self.confidence = trust.min(usual);
        }
        if whole && process.film.takes == Takes::Polish {
            self.stripped = Some((entry.at, entry.id));
        }
        if laid.any() {
            self.coated = Some((entry.at, entry.id));
        }
        if process.film.condition().is_some() {
            self.condition_at = entry.at;
        }
        if let Some(unfit) = say::unfit(entry.id, process, before.kind, laid) {
            // Told once for all nights of a job.
            self.contradictions.retain(|c| c.code != unfit.code);
            self.contradictions.push(unfit);
        }
        if whole {
            self.layers = after;
        } else {
            self.layers = before.or(after, mostly);
            self.contradictions.push(self.part_only(entry.id, process));
        }
        self.rest_on(entry, laid.word, say::done(process, laid, whole));
    }

    /// What lay there before a job, whether the floor is done with it, and whether most of it is.
    fn before(&mut self, at: DateTime<Utc>, job: &Job) -> (Layers, bool, bool) {
        // Work without a plan is one job with other work by the same process.
        let process = Some(&job.process).filter(|_key| job.plan.is_none());
        let key = (job.plan, process.cloned().unwrap_or_default());
        let longest = TimeDelta::days(self.floor.base.film.job_days);
        let (done, before) = match self.part.take() {
            Some(part)
                if part.key == key
                    && job.started_at.signed_duration_since(part.last) <= longest =>
            {
                (part.done.plus(job.area), part.before)
            }
            Some(_) | None => (job.area, self.layers),
        };
        let share = i128::from(done.mm2()) * 1_000;
        let whole = share >= i128::from(self.floor.area.mm2()) * i128::from(WHOLE_OF_1000);
        let mostly = share >= i128::from(self.floor.area.mm2()) * 500;
        if !whole {
            self.part = Some(Part {
                key,
                last: at,
                done,
                before,
            });
        }
        (before, whole, mostly)
    }

    fn part_only(&self, entry: EntryId, process: &Process) -> Contradiction {
        let done = self.part.as_ref().map_or(Area::ZERO, |part| part.done);
        let statement = format!(
            "{}: reported on {:.1} of {:.1} m² so far; the rest is as it was.",
            process.name,
            done.m2(),
            self.floor.area.m2()
        );
        Contradiction {
            code: "part_only",
            statement,
            entry,
        }
    }

    /// What went before says nothing any more, but for when the floor was last stripped and coated.
    fn forget(&mut self) {
        let kept = [self.stripped, self.coated].map(|when| when.map(|(_, id)| id));
        self.basis
            .retain(|ground| ground.entry.is_some() && kept.contains(&ground.entry));
    }

    fn rest_on(&mut self, entry: &Entry, word: Word, statement: String) {
        self.basis.push(Ground {
            entry: Some(entry.id),
            at: entry.at,
            word: Some(word),
            statement,
            source: None,
        });
    }

    /// The state at a moment after the last entry.
    pub(super) fn finish(mut self, at: DateTime<Utc>) -> State {
        self.pass_to(at);
        let age = float(at.signed_duration_since(self.condition_at).num_seconds()) / 86_400.0;
        let figures = &self.floor.base.film;
        let too_old = age > self.half_life();
        let condition = self
            .layers
            .condition
            .filter(|condition| !(too_old && figures.lapses(*condition)));
        self.basis
            .extend(say::wear(self.floor, at, self.layers.kind));
        State {
            at,
            kind: self.layers.kind,
            condition,
            polish: self.layers.polish,
            seal: self.layers.seal,
            stripped: self.stripped,
            coated: self.coated,
            confidence: self.confidence,
            contradictions: self.contradictions,
            basis: self.basis,
            least_confidence: figures.least_confidence,
        }
    }
}
