//! Revisions of schedules: what became of one that is being done.

use domain::id::ScheduleId;
use sea_orm::sea_query::{Expr, ExprTrait, Order};
use sea_orm::{
    ColumnTrait, Condition, EntityTrait, IntoActiveModel, QueryFilter, QueryOrder, QuerySelect,
};

use super::{Schedules, of_job};
use crate::row::RevisionRow;
use crate::row::schedule_revision::{Column, Entity};
use crate::store::{Access, Page, StoreError, table};

impl Schedules<'_> {
    /// Adds a revision and raises the version of its schedule to that of the revision; false, and nothing is done, if the
    /// schedule is not at the version before it.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its number is taken.
    pub async fn revise(&self, row: &RevisionRow) -> Result<bool, StoreError> {
        let before = Condition::all()
            .add(table::is("version", row.version.saturating_sub(1)))
            .add(Expr::col("chosen").is_not_null());
        if !self.change(row.schedule_id, before, []).await? {
            return Ok(false);
        }
        let model = row.to_model(self.0.tenant.uuid());
        Entity::insert(model.into_active_model())
            .exec_without_returning(&self.0.inner)
            .await?;
        Ok(true)
    }
}

impl<A: Access> Schedules<'_, A> {
    /// The numbers of revisions of a schedule, and what came of each, in their order.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn revisions(
        &self,
        id: ScheduleId,
        after: i64,
        limit: u64,
    ) -> Result<Page<(i64, String), i64>, StoreError> {
        let found = Entity::find()
            .filter(of_job(self.0, id))
            .filter(Column::Number.gt(after))
            .order_by(Column::Number, Order::Asc)
            .limit(limit.saturating_add(1))
            .select_only()
            .columns([Column::Number, Column::Summary])
            .into_tuple::<(i64, String)>()
            .all(self.0.on())
            .await?;
        Ok(Page::cut(found, limit, |row: &(i64, String)| row.0))
    }

    /// One revision of a schedule, or the last one where no number is named.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn revision(
        &self,
        id: ScheduleId,
        number: Option<i64>,
    ) -> Result<Option<RevisionRow>, StoreError> {
        let found = Entity::find()
            .filter(of_job(self.0, id))
            .filter(Condition::all().add_option(number.map(|number| Column::Number.eq(number))))
            .order_by(Column::Number, Order::Desc)
            .limit(1)
            .one(self.0.on())
            .await?;
        Ok(found.map(RevisionRow::from_model))
    }
}
