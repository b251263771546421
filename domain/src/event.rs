//! What others are told of: the closed list of the types of events.
//!
//! A type reads `wearcourse.<thing>.<verb>.v<n>`. What is added to an event keeps its type; what would mislead a receiver
//! of today gets a new number.

use crate::words::words;

words! {
    /// The type of an event.
    EventKind {
        /// A site was registered.
        SiteRegistered "wearcourse.site.registered.v1",
        /// A site was changed.
        SiteChanged "wearcourse.site.changed.v1",
        /// A site got a new edition of its rates.
        RateCardIssued "wearcourse.rate_card.issued.v1",
        /// A surface was registered.
        SurfaceRegistered "wearcourse.surface.registered.v1",
        /// A surface was changed: its survey, its name, or what replaced it.
        SurfaceChanged "wearcourse.surface.changed.v1",
        /// Work on a surface comes due: raised once for each due date, some days before.
        SurfaceDue "wearcourse.surface.due.v1",
        /// A site got a budget for a year.
        BudgetSet "wearcourse.budget.set.v1",
        /// A budget was changed.
        BudgetChanged "wearcourse.budget.changed.v1",
        /// A plan was made.
        PlanProposed "wearcourse.plan.proposed.v1",
        /// A plan is to be done.
        PlanAccepted "wearcourse.plan.accepted.v1",
        /// A later plan took the place of an accepted one.
        PlanSuperseded "wearcourse.plan.superseded.v1",
        /// A plan is not to be done.
        PlanWithdrawn "wearcourse.plan.withdrawn.v1",
        /// A schedule came to its end: it has choices, or says why there are none.
        ScheduleFinished "wearcourse.schedule.finished.v1",
        /// A schedule that is being done was planned again, and tasks moved or fell away.
        ScheduleMoved "wearcourse.schedule.moved.v1",
        /// An estimate over many surfaces was made.
        EstimateMade "wearcourse.estimate.made.v1",
        /// Work was reported.
        CompletionRecorded "wearcourse.completion.recorded.v1",
        /// A report of work was corrected: another counts in its place.
        CompletionSuperseded "wearcourse.completion.superseded.v1",
        /// A report of work counts no more, and nothing in its place.
        CompletionVoided "wearcourse.completion.voided.v1",
        /// Reported work differs from its plan, or from what is possible.
        CompletionDeviated "wearcourse.completion.deviated.v1",
        /// Somebody acknowledged a deviation.
        DeviationAcknowledged "wearcourse.completion.deviation_acknowledged.v1",
        /// A value was measured.
        ReadingTaken "wearcourse.reading.taken.v1",
        /// A reading was corrected: another counts in its place.
        ReadingSuperseded "wearcourse.reading.superseded.v1",
        /// A reading counts no more, and nothing in its place.
        ReadingVoided "wearcourse.reading.voided.v1",
        /// Somebody told what lies on a surface.
        ObservationRecorded "wearcourse.observation.recorded.v1",
        /// An observation was corrected: another counts in its place.
        ObservationSuperseded "wearcourse.observation.superseded.v1",
        /// An observation counts no more, and nothing in its place.
        ObservationVoided "wearcourse.observation.voided.v1",
        /// A contractor was registered.
        ContractorRegistered "wearcourse.contractor.registered.v1",
        /// A contractor's own system may report.
        ContractorSourceMade "wearcourse.contractor_source.made.v1",
        /// A contractor source got a new secret.
        ContractorSourceRotated "wearcourse.contractor_source.rotated.v1",
        /// A contractor source is refused from now on.
        ContractorSourceDisabled "wearcourse.contractor_source.disabled.v1",
        /// A product was registered.
        ProductRegistered "wearcourse.product.registered.v1",
        /// A product was changed.
        ProductChanged "wearcourse.product.changed.v1",
        /// Something left over was registered.
        StockItemRegistered "wearcourse.stock_item.registered.v1",
        /// What is left of something was changed.
        StockItemChanged "wearcourse.stock_item.changed.v1",
        /// Something left over is used up or thrown away.
        StockItemDeleted "wearcourse.stock_item.deleted.v1",
        /// A subscription was made.
        SubscriptionMade "wearcourse.subscription.made.v1",
        /// A subscription was changed or enabled again.
        SubscriptionChanged "wearcourse.subscription.changed.v1",
        /// A subscription got a new secret.
        SubscriptionRotated "wearcourse.subscription.rotated.v1",
        /// A subscription is told nothing from now on: somebody said so, or its receiver did, or it failed for too long.
        SubscriptionDisabled "wearcourse.subscription.disabled.v1",
        /// A subscription was deleted.
        SubscriptionDeleted "wearcourse.subscription.deleted.v1",
        /// Somebody tries a subscription out: goes to that one alone, whatever it asks for.
        SubscriptionPinged "wearcourse.subscription.pinged.v1",
    }
}

impl EventKind {
    /// The type without its number: the thing and what happened to it, such as `plan.proposed`.
    pub fn short(self) -> &'static str {
        let word = self.word();
        let word = word.strip_prefix("wearcourse.").unwrap_or(word);
        word.strip_suffix(".v1").unwrap_or(word)
    }
}

#[cfg(test)]
mod tests {
    use super::EventKind;

    #[test]
    fn every_type_names_the_thing_the_verb_and_its_number() {
        let is_word = |part: &str| {
            !part.is_empty() && part.bytes().all(|b| b.is_ascii_lowercase() || b == b'_')
        };
        for kind in EventKind::ALL {
            let parts: Vec<_> = kind.word().split('.').collect();
            assert_eq!((parts.len(), parts[0], parts[3]), (4, "wearcourse", "v1"));
            assert!(is_word(parts[1]) && is_word(parts[2]), "{kind:?}");
            assert_eq!(EventKind::of(kind.word()), Some(*kind));
            assert_eq!(kind.short(), format!("{}.{}", parts[1], parts[2]));
        }
    }
}
