//! What a completion tells of one figure: a rate, a coverage, a dry time.

use domain::{
    id::{CompletionId, ContractorId, SiteId},
    learning::Kind,
};
use sea_orm::entity::prelude::*;

use super::Stored;
use crate::store::StoreError;

/// What a completion tells of one figure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CompletionPaceRow {
    /// The completion.
    pub completion_id: CompletionId,
    /// Its place in the completion, from 1.
    pub line_no: i64,
    /// The site of the surface.
    pub site_id: SiteId,
    /// Who did it.
    pub contractor_id: Option<ContractorId>,
    /// The kind of figure.
    pub kind: Kind,
    /// The activity, or the class of product, that it tells of.
    pub subject: String,
    /// The month of the work, `YYYY-MM` in the site's time zone.
    pub month: String,
    /// What it came to: millionths of what was usual when it was recorded.
    pub factor_ppm: i64,
    /// How much of a whole job's word it has, in millionths.
    pub share_ppm: i64,
}

#[derive(Clone, Debug, PartialEq, Eq, DeriveEntityModel)]
#[sea_orm(table_name = "completion_paces")]
pub(crate) struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) tenant_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) completion_id: Uuid,
    #[sea_orm(primary_key, auto_increment = false)]
    pub(crate) line_no: i64,
    pub(crate) site_id: Uuid,
    pub(crate) contractor_id: Option<Uuid>,
    #[sea_orm(column_name = "activity")]
    pub(crate) subject: String,
    pub(crate) month: String,
    pub(crate) factor_ppm: i64,
    pub(crate) share_ppm: i64,
    pub(crate) kind: String,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub(crate) enum Relation {}

impl ActiveModelBehavior for ActiveModel {}

/// No kind of figure has this word.
#[derive(Debug, thiserror::Error)]
#[error("no kind of figure is called `{0}`")]
struct UnknownKind(String);

impl Stored for CompletionPaceRow {
    type Entity = Entity;
    type Model = Model;

    const TABLE: &'static str = "completion_paces";

    fn to_model(&self, tenant: Uuid) -> Model {
        Model {
            tenant_id: tenant,
            completion_id: self.completion_id.uuid(),
            line_no: self.line_no,
            site_id: self.site_id.uuid(),
            contractor_id: self.contractor_id.map(ContractorId::uuid),
            kind: self.kind.word().to_owned(),
            subject: self.subject.clone(),
            month: self.month.clone(),
            factor_ppm: self.factor_ppm,
            share_ppm: self.share_ppm,
        }
    }

    fn from_model(model: Model) -> Result<Self, StoreError> {
        Ok(Self {
            completion_id: CompletionId::from_uuid(model.completion_id),
            line_no: model.line_no,
            site_id: SiteId::from_uuid(model.site_id),
            contractor_id: model.contractor_id.map(ContractorId::from_uuid),
            kind: Kind::of(&model.kind).ok_or_else(|| StoreError::Corrupt {
                table: Self::TABLE,
                column: "kind",
                row: model.completion_id.to_string(),
                source: Box::new(UnknownKind(model.kind.clone())),
            })?,
            subject: model.subject,
            month: model.month,
            factor_ppm: model.factor_ppm,
            share_ppm: model.share_ppm,
        })
    }
}
