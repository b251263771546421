//! What events tell of their subjects: ids, the version, a link to the whole, and the figures by which a receiver decides
//! whether to follow it. Never the whole record: a plan is tens of kilobytes long.

mod completion;
mod schedule;

use chrono::{DateTime, Utc};
use domain::{
    id::{SiteId, SurfaceId},
    money::Money,
};
use infra::row::{
    DisabledBecause, DueRow, EstimateRow, PlanRow, RateCardRow, SiteRow, SubscriptionRow,
    SurfaceRow,
};
use serde::Serialize;
use utoipa::ToSchema;

use super::{EventData, Subject};
use crate::{
    call,
    wire::{money::MoneyView, number, schedule::replan::MoveView, time},
};

/// Declares what an event tells: the members that all have, and its own.
macro_rules! event_data {
    ($($(#[$doc:meta])* $name:ident { $($(#[$member_doc:meta])* $member:ident: $type:ty,)* })+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Serialize, ToSchema)]
        pub(crate) struct $name {
            /// The id of the subject.
            #[schema(max_length = 100)]
            id: String,
            /// The version of the subject after the event: of two events about it, the higher tells how it stands now.
            #[schema(minimum = 1)]
            version: i64,
            /// Where the subject is read, by a token with the scope for it.
            #[schema(max_length = 2000)]
            href: String,
            /// The site that it belongs to; null if it belongs to no single one.
            #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
            site_id: Option<String>,
            #[serde(skip)]
            #[schema(ignore)]
            site: Option<SiteId>,
            $($(#[$member_doc])* $member: $type,)*
        }

        impl EventData for $name {
            const SCHEMA: &'static str = stringify!($name);

            fn subject(&self) -> Subject<'_> {
                Subject { id: &self.id, version: self.version, site_id: self.site }
            }
        }
    )+};
}

event_data! {
    /// What is told of a site.
    SiteEventData {
        /// What people call it.
        #[schema(max_length = 200)]
        name: String,
        /// The currency of its money.
        #[schema(max_length = 3)]
        currency: String,
    }
    /// What is told of an edition of a site's rates.
    RateCardEventData {
        /// The number of the edition.
        number: i64,
        /// The first day on which it counts.
        #[schema(format = Date, max_length = 10)]
        valid_from: String,
    }
    /// What is told of a surface.
    SurfaceEventData {
        /// What people call it.
        #[schema(max_length = 200)]
        name: String,
        /// The storey that it lies on.
        #[schema(max_length = 200)]
        storey: String,
        /// Its material.
        #[schema(max_length = 60)]
        material: String,
        /// Its area.
        #[schema(minimum = 0)]
        area_m2: f64,
    }
    /// What is told of work that comes due on a surface.
    SurfaceDueEventData {
        /// The process that is due, by its key.
        #[schema(max_length = 60)]
        process: String,
        /// The day on which it is due.
        #[schema(format = Date, max_length = 10)]
        due_on: String,
        /// The day on which it was last done on the whole floor; null if nobody reported so.
        #[schema(format = Date, max_length = 10)]
        last_done_on: Option<String>,
        /// Why it is due then: interval, film or never_done.
        #[schema(max_length = 20)]
        why: &'static str,
    }
    /// What is told of a plan.
    PlanEventData {
        /// Its surface.
        #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
        surface_id: String,
        /// Where it stands.
        #[schema(max_length = 20)]
        status: &'static str,
        /// What was wished.
        #[schema(max_length = 30)]
        goal: String,
        /// What is said of the wish: allowed, allowed_with_warnings, needs_information or refused.
        #[schema(max_length = 30)]
        verdict: String,
        /// The process that is to be done; null if there is nothing to do.
        #[schema(max_length = 60)]
        process: Option<String>,
        /// The area that it is for.
        #[schema(minimum = 0)]
        area_m2: f64,
        /// What it costs without tax; null if there is nothing to do.
        net: Option<MoneyView>,
    }
    /// What is told of a schedule.
    ScheduleEventData {
        /// What came of it: scheduled, impossible, not_found or failed.
        #[schema(max_length = 20)]
        outcome: String,
    }
    /// What is told of a schedule that was planned again while it is being done.
    ScheduleMovedEventData {
        /// The number of the revision.
        #[schema(minimum = 1)]
        revision: i64,
        /// How many tasks begin at another time than before.
        #[schema(minimum = 0)]
        n_moved: usize,
        /// How many tasks fall away.
        #[schema(minimum = 0)]
        n_cancelled: usize,
        /// The first of them, in the order of the new times.
        #[schema(max_items = 20)]
        moves: Vec<MoveView>,
        /// Where all of them are listed, by a token with the scope for it.
        #[schema(max_length = 2000)]
        moves_href: String,
    }
    /// What is told of an estimate over many surfaces.
    EstimateEventData {
        /// How many surfaces it is over.
        #[schema(minimum = 0)]
        n_surfaces: i64,
        /// Their area.
        #[schema(minimum = 0)]
        area_m2: f64,
        /// What it comes to without tax.
        net: MoneyView,
    }
    /// What is told of a report of work.
    CompletionEventData {
        /// The surface that was worked on.
        #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
        surface_id: String,
        /// The plan that it cites; null for work without a plan.
        #[schema(max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")]
        plan_id: Option<String>,
        /// Who did it, if that was said.
        #[schema(max_length = 40, pattern = "^con_[0-9a-f-]{36}$")]
        contractor_id: Option<String>,
        /// Whether it counts: recorded, superseded or voided.
        #[schema(max_length = 20)]
        status: &'static str,
        /// The report that it corrects.
        #[schema(max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")]
        supersedes: Option<String>,
        /// The report that corrects it.
        #[schema(max_length = 40, pattern = "^cmp_[0-9a-f-]{36}$")]
        superseded_by: Option<String>,
        /// The process that was done.
        #[schema(max_length = 60)]
        process: String,
        /// The area that was worked on.
        #[schema(minimum = 0)]
        area_m2: f64,
        /// When the work ended.
        #[schema(format = DateTime, max_length = 24)]
        finished_at: String,
        /// In what it differs from its plan or from what is possible, by code.
        #[schema(max_items = 100)]
        deviations: Vec<String>,
    }
    /// What is told of what lies on a surface: a reading or an observation.
    SurfaceFactEventData {
        /// The surface.
        #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
        surface_id: String,
        /// The moment of which it tells.
        #[schema(format = DateTime, max_length = 24)]
        at: String,
    }
    /// What is told of a subscription.
    SubscriptionEventData {
        /// What people call it.
        #[schema(max_length = 200)]
        name: String,
        /// Whether it is told of events.
        #[schema(max_length = 20)]
        status: &'static str,
        /// Why it is told nothing: asked, gone or failing; null unless it is disabled.
        #[schema(max_length = 20)]
        disabled_because: Option<&'static str>,
    }
    /// What is told of everything else.
    RecordEventData {
    }
}

/// A part of a path, as it stands in an address.
fn link(path: &str, id: &str) -> String {
    call::absolute(&format!("{path}/{id}"))
}

impl From<&SiteRow> for SiteEventData {
    fn from(row: &SiteRow) -> Self {
        let id = row.id.to_string();
        Self {
            href: link("/v1/sites", &id),
            site_id: Some(id.clone()),
            id,
            version: row.version,
            site: Some(row.id),
            name: row.name.clone(),
            currency: row.currency.code().to_owned(),
        }
    }
}

impl From<&RateCardRow> for RateCardEventData {
    fn from(row: &RateCardRow) -> Self {
        let id = row.id.to_string();
        Self {
            href: link(&format!("/v1/sites/{}/rate-cards", row.site_id), &id),
            id,
            version: 1,
            site_id: Some(row.site_id.to_string()),
            site: Some(row.site_id),
            number: row.number,
            valid_from: row.valid_from.to_string(),
        }
    }
}

impl From<&SurfaceRow> for SurfaceEventData {
    fn from(row: &SurfaceRow) -> Self {
        let id = row.id.to_string();
        Self {
            href: link("/v1/surfaces", &id),
            id,
            version: row.version,
            site_id: Some(row.site_id.to_string()),
            site: Some(row.site_id),
            name: row.name.clone(),
            storey: row.storey.clone(),
            material: row.material.clone(),
            area_m2: number::square_metres(row.area),
        }
    }
}

impl From<&PlanRow> for PlanEventData {
    fn from(row: &PlanRow) -> Self {
        let id = row.id.to_string();
        let money = |amount| Money {
            amount,
            currency: row.currency,
        };
        Self {
            href: link("/v1/plans", &id),
            id,
            version: row.version,
            site_id: Some(row.site_id.to_string()),
            site: Some(row.site_id),
            surface_id: row.surface_id.to_string(),
            status: row.status.as_str(),
            goal: row.goal.clone(),
            verdict: row.verdict.clone(),
            process: row.process.clone(),
            area_m2: number::square_metres(row.area),
            net: row.net_amount.map(money).map(Into::into),
        }
    }
}

impl From<&EstimateRow> for EstimateEventData {
    fn from(row: &EstimateRow) -> Self {
        let id = row.id.to_string();
        let net = Money {
            amount: row.net_amount,
            currency: row.currency,
        };
        Self {
            href: link("/v1/estimates", &id),
            id,
            version: 1,
            site_id: Some(row.site_id.to_string()),
            site: Some(row.site_id),
            n_surfaces: row.n_surfaces,
            area_m2: number::square_metres(row.area),
            net: net.into(),
        }
    }
}

impl SurfaceFactEventData {
    /// What is told of a reading or observation that is read below a path.
    pub(crate) fn new(
        (path, id, version): (&str, String, i64),
        (site, surface): (SiteId, SurfaceId),
        at: DateTime<Utc>,
    ) -> Self {
        Self {
            href: link(path, &id),
            id,
            version,
            site_id: Some(site.to_string()),
            site: Some(site),
            surface_id: surface.to_string(),
            at: time::write(at),
        }
    }
}

impl From<&SubscriptionRow> for SubscriptionEventData {
    fn from(row: &SubscriptionRow) -> Self {
        let id = row.id.to_string();
        Self {
            href: link("/v1/subscriptions", &id),
            id,
            version: row.version,
            site_id: None,
            site: None,
            name: row.name.clone(),
            status: row.status.as_str(),
            disabled_because: row.disabled_because.map(DisabledBecause::as_str),
        }
    }
}

impl SurfaceDueEventData {
    /// What is told of a due date on a floor.
    pub(crate) fn new(row: &DueRow, floor: &SurfaceRow) -> Self {
        let id = floor.id.to_string();
        Self {
            href: link("/v1/surfaces", &id),
            id,
            version: floor.version,
            site_id: Some(floor.site_id.to_string()),
            site: Some(floor.site_id),
            process: row.due.process.clone(),
            due_on: row.due.due_on.to_string(),
            last_done_on: row.due.last_done_on.map(|day| day.to_string()),
            why: row.due.why.word(),
        }
    }
}

impl RecordEventData {
    /// What is told of a record that is read below a path, of a site if it belongs to one.
    pub(crate) fn new((path, id, version): (&str, String, i64), site: Option<SiteId>) -> Self {
        Self {
            href: link(path, &id),
            id,
            version,
            site_id: site.map(|id| id.to_string()),
            site,
        }
    }
}
