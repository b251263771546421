//! Each accessor on a real database: a file, or a server when one is named (see `testing`). The bodies are the same.

mod delivery;
mod delivery_log;
mod due;
mod estate;
mod estimate_job;
mod fence;
mod film;
mod idempotency;
mod import;
mod input_versions;
mod opening;
mod pace;
mod planning;
mod product;
mod provenance;
mod rate_card;
mod reading;
mod record;
mod report;
mod rollup;
mod schedule;
mod schema;
mod stock_item;
mod surface;
mod tenant;
mod together;
mod turn;

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::id::{
    CompletionId, ContractorId, EstimateId, EventId, PlanId, RateCardId, SiteId, SurfaceId,
    TenantId,
};
use domain::money::Currency;
use domain::quantity::{Area, Length};

use super::{Store, Tx};
use crate::clock::{Clock, IdSource};
use crate::row::{
    CommitmentRow, CompletionLineRow, CompletionPaceRow, CompletionRow, CompletionStatus,
    ContractorRow, DeviationState, EstimateRow, EventRow, External, PlanLineRow, PlanRow,
    PlanStatus, RateCardRow, SiteRow, SurfaceRow, TenantRow,
};
use crate::testing::{ManualClock, SeededIds, TestStore};

/// How a test ends: an error that nobody expected fails it.
type Checked = Result<(), Box<dyn std::error::Error>>;

/// A database with two tenants, and one row of each kind that belongs together.
struct World {
    database: TestStore,
    ids: SeededIds,
    now: DateTime<Utc>,
    ours: TenantId,
    theirs: TenantId,
}

impl World {
    async fn new() -> Self {
        let world = Self {
            database: TestStore::new().await,
            ids: SeededIds::new(1),
            now: ManualClock::default().now() + TimeDelta::milliseconds(250),
            ours: TenantId::from_uuid(SeededIds::new(2).uuid()),
            theirs: TenantId::from_uuid(SeededIds::new(3).uuid()),
        };
        for (id, key) in [(world.ours, "ours"), (world.theirs, "theirs")] {
            let row = TenantRow {
                id,
                key: key.to_owned(),
                name: format!("Those of {key}"),
                created_at: world.now,
            };
            world.database.add_tenant(&row).await;
        }
        world
    }

    fn store(&self) -> &Store {
        self.database.store()
    }

    async fn begin(&self) -> Tx {
        self.store()
            .begin(self.ours)
            .await
            .expect("a writing transaction")
    }

    async fn read(&self) -> Tx {
        self.store()
            .read(self.ours)
            .await
            .expect("a reading transaction")
    }

    async fn read_theirs(&self) -> Tx {
        self.store()
            .read(self.theirs)
            .await
            .expect("a reading transaction")
    }

    fn site(&self) -> SiteRow {
        SiteRow {
            id: SiteId::from_uuid(self.ids.uuid()),
            version: 1,
            name: "Harbour House".to_owned(),
            time_zone: "Europe/London".to_owned(),
            currency: gbp(),
            country: "GB".to_owned(),
            external: None,
            document: r#"{"name":"Harbour House"}"#.to_owned(),
            created_at: self.now,
            updated_at: self.now,
        }
    }

    fn rate_card(&self, site: &SiteRow, number: i64, valid_from: &str) -> RateCardRow {
        RateCardRow {
            id: RateCardId::from_uuid(self.ids.uuid()),
            site_id: site.id,
            number,
            valid_from: day(valid_from),
            document: "{}".to_owned(),
            created_at: self.now,
        }
    }

    fn contractor(&self) -> ContractorRow {
        ContractorRow {
            id: ContractorId::from_uuid(self.ids.uuid()),
            version: 1,
            name: "Night Crew".to_owned(),
            external: None,
            document: "{}".to_owned(),
            created_at: self.now,
            updated_at: self.now,
        }
    }

    fn surface(&self, site: &SiteRow) -> SurfaceRow {
        SurfaceRow {
            id: SurfaceId::from_uuid(self.ids.uuid()),
            site_id: site.id,
            version: 1,
            name: "Corridor".to_owned(),
            storey: "1".to_owned(),
            material: "linoleum".to_owned(),
            area: Area::from_mm2(240_000_000),
            perimeter: Some(Length::from_mm(64_000)),
            external: None,
            document: "{}".to_owned(),
            created_at: self.now,
            updated_at: self.now,
        }
    }

    fn plan(&self, surface: &SurfaceRow) -> PlanRow {
        PlanRow {
            id: PlanId::from_uuid(self.ids.uuid()),
            site_id: surface.site_id,
            surface_id: surface.id,
            surface_version: surface.version,
            version: 1,
            status: PlanStatus::Proposed,
            goal: "restore".to_owned(),
            verdict: "allowed".to_owned(),
            process: Some("strip_and_refinish".to_owned()),
            knowledge_version: "1".to_owned(),
            rate_card_id: None,
            planned_on: self.now.date_naive(),
            area: surface.area,
            net_amount: Some(5_404_700),
            currency: gbp(),
            request_document: "{}".to_owned(),
            document: "{}".to_owned(),
            created_at: self.now,
            changed_at: self.now,
        }
    }

    fn estimate(&self, site: &SiteRow) -> EstimateRow {
        EstimateRow {
            id: EstimateId::from_uuid(self.ids.uuid()),
            site_id: site.id,
            n_surfaces: 3,
            area: Area::from_mm2(90_000_000),
            net_amount: 16_214_100,
            currency: gbp(),
            knowledge_version: "1".to_owned(),
            document: "{}".to_owned(),
            created_at: self.now,
        }
    }

    fn completion(&self, surface: &SurfaceRow, card: &RateCardRow) -> CompletionRow {
        CompletionRow {
            id: CompletionId::from_uuid(self.ids.uuid()),
            site_id: surface.site_id,
            surface_id: surface.id,
            plan_id: None,
            contractor_id: None,
            status: CompletionStatus::Recorded,
            supersedes: None,
            superseded_by: None,
            process: "strip_and_refinish".to_owned(),
            rate_card_id: card.id,
            rate_card_number: card.number,
            started_at: self.now - TimeDelta::hours(9),
            finished_at: self.now - TimeDelta::hours(1),
            month: "2026-06".to_owned(),
            area: surface.area,
            planned_share_ppm: 0,
            currency: gbp(),
            external: None,
            document: "{}".to_owned(),
            deviation_state: DeviationState::None,
            deviations: Vec::new(),
            amendments: String::new(),
            created_at: self.now,
            changed_at: self.now,
        }
    }

    fn event(&self, subject: &str) -> EventRow {
        EventRow {
            id: EventId::from_uuid(self.ids.uuid()),
            kind: "wearcourse.site.registered.v1".to_owned(),
            subject: subject.to_owned(),
            version: 1,
            payload: "{}".to_owned(),
            created_at: self.now,
            site_id: None,
            handed_out_at: None,
        }
    }
}

/// A completion that counts no more.
fn voided(row: &CompletionRow) -> CompletionRow {
    CompletionRow {
        status: CompletionStatus::Voided,
        amendments: "[]".to_owned(),
        ..row.clone()
    }
}

fn gbp() -> Currency {
    "GBP".parse().expect("a currency")
}

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

fn external(system: &str, id: &str) -> External {
    External {
        system: system.to_owned(),
        id: id.to_owned(),
    }
}

/// What an accepted plan is reported under, in June.
fn commitment(plan: &PlanRow, surface: &SurfaceRow, goal: &str) -> CommitmentRow {
    CommitmentRow {
        plan_id: plan.id,
        site_id: plan.site_id,
        surface_id: plan.surface_id,
        storey: surface.storey.clone(),
        material: surface.material.clone(),
        process: plan.process.clone().unwrap_or_default(),
        goal: goal.to_owned(),
        month: "2026-06".to_owned(),
        currency: plan.currency,
    }
}

fn plan_line(plan: &PlanRow, line_no: i64, kind: &str) -> PlanLineRow {
    PlanLineRow {
        plan_id: plan.id,
        line_no,
        kind: kind.to_owned(),
        stage: Some("prepare".to_owned()),
        product_class: None,
        seconds: 3_600,
        ml: 500,
        amount: 165_000,
    }
}

/// A line of a completion whose planned amount is a thousand times its place and whose actual one is twice that.
/// What a completion tells of a rate.
fn pace(of: &CompletionRow, line_no: i64) -> CompletionPaceRow {
    CompletionPaceRow {
        completion_id: of.id,
        line_no,
        site_id: of.site_id,
        contractor_id: of.contractor_id,
        kind: domain::learning::Kind::Rate,
        subject: "strip_machine".to_owned(),
        month: of.month.clone(),
        factor_ppm: 900_000,
        share_ppm: 750_000,
    }
}

fn line(of: &CompletionRow, surface: &SurfaceRow, line_no: i64, kind: &str) -> CompletionLineRow {
    CompletionLineRow {
        completion_id: of.id,
        line_no,
        site_id: of.site_id,
        surface_id: of.surface_id,
        storey: surface.storey.clone(),
        material: surface.material.clone(),
        process: of.process.clone(),
        stage: None,
        product_class: None,
        kind: kind.to_owned(),
        contractor_id: of.contractor_id,
        month: of.month.clone(),
        rate_card_number: of.rate_card_number,
        currency: of.currency,
        planned_seconds: 60,
        actual_seconds: 90,
        planned_ml: 10,
        actual_ml: 15,
        planned_amount: 1_000 * line_no,
        computed_amount: 1_500 * line_no,
        actual_amount: 2_000 * line_no,
        quantity_amount: 10 * line_no,
        productivity_amount: 20 * line_no,
        water_ml: 150,
        voc_mg: 7,
        voc_unknown_ml: 15,
    }
}
