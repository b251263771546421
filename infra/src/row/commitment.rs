//! A plan that was accepted, with the words that reports group it by.

use domain::id::{PlanId, SiteId, SurfaceId};
use domain::money::Currency;
use sea_orm::entity::prelude::*;

use super::{Stored, parse};
use crate::store::StoreError;

/// A plan that was accepted, with the words that reports group it by. It stays when the plan is superseded or
/// withdrawn; whether it counts is the plan's status.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CommitmentRow {
    /// The plan.
    pub plan_id: PlanId,
    /// Its site.
    pub site_id: SiteId,
    /// Its surface.
    pub surface_id: SurfaceId,
    /// The storey of the surface when the plan was accepted.
    pub storey: String,
    /// The material of the surface when the plan was accepted.
    pub material: String,
    /// The key of the plan's process.
    pub process: String,
    /// The goal of its wish.
    pub goal: String,
    /// The month in which it was accepted, `YYYY-MM` in the site's time zone.
    pub month: String,
    /// The currency of its money.
    pub currency: Currency,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "commitments")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) plan_id: Uuid,
    pub(crate) site_id: Uuid,
    pub(crate) surface_id: Uuid,
    pub(crate) storey: String,
    pub(crate) material: String,
    pub(crate) process: String,
    pub(crate) goal: String,
    pub(crate) month: String,
    pub(crate) currency: String,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for CommitmentRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "commitments";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            plan_id: self.plan_id.uuid(),
            site_id: self.site_id.uuid(),
            surface_id: self.surface_id.uuid(),
            storey: self.storey.clone(),
            material: self.material.clone(),
            process: self.process.clone(),
            goal: self.goal.clone(),
            month: self.month.clone(),
            currency: self.currency.code().to_owned(),
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            plan_id: PlanId::from_uuid(model.plan_id),
            site_id: SiteId::from_uuid(model.site_id),
            surface_id: SurfaceId::from_uuid(model.surface_id),
            storey: model.storey,
            material: model.material,
            process: model.process,
            goal: model.goal,
            month: model.month,
            currency: parse(&model.currency, Self::TABLE, "currency", model.plan_id)?,
        })
    }
}
