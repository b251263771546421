//! One line of what a completion cost, planned beside actual. It repeats the words that reports group by.

use domain::id::{CompletionId, ContractorId, SiteId, SurfaceId};
use domain::money::Currency;
use sea_orm::entity::prelude::*;

use super::{Stored, parse};
use crate::store::StoreError;

/// One line of what a completion cost, planned beside actual.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CompletionLineRow {
    /// The completion it belongs to.
    pub completion_id: CompletionId,
    /// Its place in the completion, from 1.
    pub line_no: i64,
    /// The site of the surface.
    pub site_id: SiteId,
    /// The surface that was worked on.
    pub surface_id: SurfaceId,
    /// The storey of the surface at that time.
    pub storey: String,
    /// The material of the surface at that time.
    pub material: String,
    /// The key of the process that was done.
    pub process: String,
    /// `prepare`, `protect` or `maintain`, where it belongs to one.
    pub stage: Option<String>,
    /// The class of product, where it is for one.
    pub product_class: Option<String>,
    /// A kind of a plan's line, or `charged`.
    pub kind: String,
    /// Who did it.
    pub contractor_id: Option<ContractorId>,
    /// The month that it counts in, `YYYY-MM` in the site's time zone.
    pub month: String,
    /// The number of the edition of the rate card.
    pub rate_card_number: i64,
    /// The currency of its amounts.
    pub currency: Currency,
    /// Planned working time in whole seconds.
    pub planned_seconds: i64,
    /// Reported working time in whole seconds.
    pub actual_seconds: i64,
    /// Planned volume in whole millilitres.
    pub planned_ml: i64,
    /// Reported volume in whole millilitres.
    pub actual_ml: i64,
    /// Planned cost in 1/10,000 of the currency's unit.
    pub planned_amount: i64,
    /// The cost that the rate card gives for what was reported.
    pub computed_amount: i64,
    /// The cost that counts: the computed one, or what was charged.
    pub actual_amount: i64,
    /// What litres beyond the plan, or saved, come to at the planned price.
    pub quantity_amount: i64,
    /// What hours beyond the plan, or saved, come to at the planned rate.
    pub productivity_amount: i64,
    /// Water that the product was made up with, in whole millilitres.
    pub water_ml: i64,
    /// Volatile organic compounds in milligrams.
    pub voc_mg: i64,
    /// Product of which they are not known, in whole millilitres.
    pub voc_unknown_ml: i64,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "completion_lines")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) completion_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) line_no: i64,
    pub(crate) site_id: Uuid,
    pub(crate) surface_id: Uuid,
    pub(crate) storey: String,
    pub(crate) material: String,
    pub(crate) process: String,
    pub(crate) stage: Option<String>,
    pub(crate) product_class: Option<String>,
    pub(crate) kind: String,
    pub(crate) contractor_id: Option<Uuid>,
    pub(crate) month: String,
    pub(crate) rate_card_number: i64,
    pub(crate) currency: String,
    pub(crate) planned_seconds: i64,
    pub(crate) actual_seconds: i64,
    pub(crate) planned_ml: i64,
    pub(crate) actual_ml: i64,
    pub(crate) planned_amount: i64,
    pub(crate) computed_amount: i64,
    pub(crate) actual_amount: i64,
    pub(crate) quantity_amount: i64,
    pub(crate) productivity_amount: i64,
    pub(crate) water_ml: i64,
    pub(crate) voc_mg: i64,
    pub(crate) voc_unknown_ml: i64,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for CompletionLineRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "completion_lines";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            completion_id: self.completion_id.uuid(),
            line_no: self.line_no,
            site_id: self.site_id.uuid(),
            surface_id: self.surface_id.uuid(),
            storey: self.storey.clone(),
            material: self.material.clone(),
            process: self.process.clone(),
            stage: self.stage.clone(),
            product_class: self.product_class.clone(),
            kind: self.kind.clone(),
            contractor_id: self.contractor_id.map(ContractorId::uuid),
            month: self.month.clone(),
            rate_card_number: self.rate_card_number,
            currency: self.currency.code().to_owned(),
            planned_seconds: self.planned_seconds,
            actual_seconds: self.actual_seconds,
            planned_ml: self.planned_ml,
            actual_ml: self.actual_ml,
            planned_amount: self.planned_amount,
            computed_amount: self.computed_amount,
            actual_amount: self.actual_amount,
            quantity_amount: self.quantity_amount,
            productivity_amount: self.productivity_amount,
            water_ml: self.water_ml,
            voc_mg: self.voc_mg,
            voc_unknown_ml: self.voc_unknown_ml,
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            completion_id: CompletionId::from_uuid(model.completion_id),
            line_no: model.line_no,
            site_id: SiteId::from_uuid(model.site_id),
            surface_id: SurfaceId::from_uuid(model.surface_id),
            storey: model.storey,
            material: model.material,
            process: model.process,
            stage: model.stage,
            product_class: model.product_class,
            kind: model.kind,
            contractor_id: model.contractor_id.map(ContractorId::from_uuid),
            month: model.month,
            rate_card_number: model.rate_card_number,
            currency: parse(
                &model.currency,
                Self::TABLE,
                "currency",
                model.completion_id,
            )?,
            planned_seconds: model.planned_seconds,
            actual_seconds: model.actual_seconds,
            planned_ml: model.planned_ml,
            actual_ml: model.actual_ml,
            planned_amount: model.planned_amount,
            computed_amount: model.computed_amount,
            actual_amount: model.actual_amount,
            quantity_amount: model.quantity_amount,
            productivity_amount: model.productivity_amount,
            water_ml: model.water_ml,
            voc_mg: model.voc_mg,
            voc_unknown_ml: model.voc_unknown_ml,
        })
    }
}
