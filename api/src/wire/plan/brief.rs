//! A plan in a list.

use domain::{knowledge::KnowledgeBase, quantity::float, record::WHOLE_PPM};
use infra::row::PlanBrief;
use serde::Serialize;
use utoipa::ToSchema;

use super::Named;
use crate::wire::{money::MoneyView, number, time};

/// A plan as lists have it; the whole is read at its address.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PlanBriefView {
    /// Its id.
    #[schema(max_length = 40, pattern = "^pln_[0-9a-f-]{36}$")]
    id: String,
    /// Grows by one with each change of its status, from 1.
    #[schema(minimum = 1)]
    version: i64,
    /// Where it stands.
    #[schema(max_length = 20, pattern = "^[a-z]+$")]
    status: &'static str,
    /// When it was made.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
    /// The site of its surface.
    #[schema(max_length = 40, pattern = "^sit_[0-9a-f-]{36}$")]
    site_id: String,
    /// Its surface.
    #[schema(max_length = 40, pattern = "^srf_[0-9a-f-]{36}$")]
    surface_id: String,
    /// The version of the surface that it was made from.
    #[schema(minimum = 1)]
    surface_version: i64,
    /// The day on which its work is to begin.
    #[schema(format = Date, max_length = 10)]
    planned_on: String,
    /// The part of it that no completion has done yet, 1 to 0.
    #[schema(minimum = 0, maximum = 1)]
    share_left: f64,
    /// The area it is for, in m².
    area_m2: f64,
    /// The edition of the knowledge base.
    #[schema(max_length = 40)]
    knowledge_version: String,
    /// The edition of the rate card that it was costed with.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_length = 40, pattern = "^rtc_[0-9a-f-]{36}$")]
    rate_card_id: Option<String>,
    /// What was wished.
    #[schema(max_length = 20, pattern = "^[a-z_]+$")]
    goal: String,
    /// What is said of the wish: allowed, allowed_with_warnings, needs_information or refused.
    #[schema(max_length = 30, pattern = "^[a-z_]+$")]
    verdict: String,
    /// The process of its work; there exactly where the verdict allows it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    process: Option<Named>,
    /// What its work costs before tax.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    net: Option<MoneyView>,
}

impl PlanBriefView {
    /// The plan in short. A process that the knowledge base no longer has goes by its key.
    pub(crate) fn new(brief: PlanBrief, base: &KnowledgeBase) -> Self {
        let named = |key: String| Named {
            name: base
                .process(&key)
                .map_or_else(|| key.clone(), |process| process.name.clone()),
            key,
        };
        Self {
            id: brief.id.to_string(),
            version: brief.version,
            status: brief.status.as_str(),
            created_at: time::write(brief.created_at),
            site_id: brief.site_id.to_string(),
            surface_id: brief.surface_id.to_string(),
            surface_version: brief.surface_version,
            planned_on: brief.planned_on.to_string(),
            share_left: float(WHOLE_PPM.saturating_sub(brief.done_ppm).max(0)) / float(WHOLE_PPM),
            area_m2: number::square_metres(brief.area),
            knowledge_version: brief.knowledge_version,
            rate_card_id: brief.rate_card_id.map(|id| id.to_string()),
            goal: brief.goal,
            verdict: brief.verdict,
            process: brief.process.map(named),
            net: brief.net.map(Into::into),
        }
    }
}
