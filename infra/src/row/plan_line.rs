//! One line of a plan's cost: what it is for, how long, how much, what it costs.

use domain::id::PlanId;
use sea_orm::entity::prelude::*;

use super::Stored;
use crate::store::StoreError;

/// One line of a plan's cost.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanLineRow {
    /// The plan it belongs to.
    pub plan_id: PlanId,
    /// Its place in the plan, from 1.
    pub line_no: i64,
    /// `labour`, `allowance`, `product`, `consumable`, `machine`, `waste`, `contingency`, `overhead`, `margin`
    /// or `tax`.
    pub kind: String,
    /// `prepare`, `protect` or `maintain`, where it belongs to one.
    pub stage: Option<String>,
    /// The class of product, where it is for one.
    pub product_class: Option<String>,
    /// Working time in whole seconds.
    pub seconds: i64,
    /// Volume in whole millilitres.
    pub ml: i64,
    /// Cost in 1/10,000 of the unit of the plan's currency.
    pub amount: i64,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "plan_lines")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) plan_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) line_no: i64,
    pub(crate) kind: String,
    pub(crate) stage: Option<String>,
    pub(crate) product_class: Option<String>,
    pub(crate) seconds: i64,
    pub(crate) ml: i64,
    pub(crate) amount: i64,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

impl Stored for PlanLineRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "plan_lines";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            plan_id: self.plan_id.uuid(),
            line_no: self.line_no,
            kind: self.kind.clone(),
            stage: self.stage.clone(),
            product_class: self.product_class.clone(),
            seconds: self.seconds,
            ml: self.ml,
            amount: self.amount,
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            plan_id: PlanId::from_uuid(model.plan_id),
            line_no: model.line_no,
            kind: model.kind,
            stage: model.stage,
            product_class: model.product_class,
            seconds: model.seconds,
            ml: model.ml,
            amount: model.amount,
        })
    }
}
