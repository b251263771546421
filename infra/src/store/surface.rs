//! Surfaces.

use std::collections::BTreeMap;

use domain::{
    id::{SiteId, SurfaceId},
    quantity::{Area, Length},
};
use sea_orm::sea_query::{Expr, ExprTrait, Order, SimpleExpr};
use sea_orm::{
    Condition, ConnectionTrait, DbBackend, QueryFilter, QueryOrder, QueryResult, QuerySelect,
};
use tracing::instrument;
use uuid::Uuid;

use super::site::by_external;
use super::turn::{Place, Turn};
use super::{Access, Glance, Page, StoreError, Tx, table};
use crate::row::{External, Stored as _, SurfaceRow};

/// Which surfaces to list; what is absent is not asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SurfaceFilter {
    /// Of this site.
    pub site_id: Option<SiteId>,
    /// On this storey.
    pub storey: Option<String>,
    /// Of one of these materials; empty for any.
    pub materials: Vec<String>,
    /// With this external name.
    pub external: Option<External>,
}

/// A surface as far as a register tells of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RegisterLine {
    /// Its id.
    pub id: SurfaceId,
    /// Grows by one with each change, from 1.
    pub version: i64,
    /// Its name in another system.
    pub external: Option<External>,
    /// What people call it.
    pub name: String,
    /// The storey it lies on.
    pub storey: String,
    /// How large it is.
    pub area: Area,
    /// How long its edge is, where known.
    pub perimeter: Option<Length>,
    /// The key of its material.
    pub material: String,
    /// Its survey, where that may name a day on which it ends; few do, and long documents need not travel.
    pub may_end: Option<String>,
}

/// The columns of [`RegisterLine`], in its order.
const REGISTER_COLUMNS: [&str; 9] = [
    "id",
    "version",
    "external_system",
    "external_id",
    "name",
    "storey",
    "area_mm2",
    "perimeter_mm",
    "material",
];

/// The survey, if it may name a day on which the surface ends: looked for by the function that finds a text soonest.
fn may_end(backend: DbBackend) -> SimpleExpr {
    let place = match backend {
        DbBackend::Postgres => "strpos",
        _ => "instr",
    };
    Expr::cust(format!(
        r#"CASE WHEN {place}(document, '"retired_on"') > 0 OR {place}(document, '"replaced_by"') > 0 THEN document END"#
    ))
}

impl RegisterLine {
    fn read(row: &QueryResult) -> Result<Self, StoreError> {
        let (system, id) = (row.try_get_by_index(2)?, row.try_get_by_index(3)?);
        let perimeter_mm: Option<i64> = row.try_get_by_index(7)?;
        Ok(Self {
            id: SurfaceId::from_uuid(row.try_get_by_index(0)?),
            version: row.try_get_by_index(1)?,
            external: External::from_columns(system, id),
            name: row.try_get_by_index(4)?,
            storey: row.try_get_by_index(5)?,
            area: Area::from_mm2(row.try_get_by_index(6)?),
            perimeter: perimeter_mm.map(Length::from_mm),
            material: row.try_get_by_index(8)?,
            may_end: row.try_get_by_index(9)?,
        })
    }
}

/// The surfaces of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Surfaces<'a, A = Tx>(pub(super) &'a A);

impl Surfaces<'_> {
    /// Adds a surface.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id or its external name is taken, or the site is not there.
    pub async fn insert(&self, row: &SurfaceRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await?;
        self.0.dues().add(&[(row.id, row.site_id)]).await
    }

    /// Adds surfaces, hundreds by each statement.
    ///
    /// # Errors
    /// As [`Surfaces::insert`], for any of them.
    pub async fn insert_many(&self, rows: &[SurfaceRow]) -> Result<(), StoreError> {
        table::insert_many(self.0, rows).await?;
        let added: Vec<_> = rows.iter().map(|row| (row.id, row.site_id)).collect();
        self.0.dues().add(&added).await
    }
}

impl Surfaces<'_, Glance<'_>> {
    /// Version and document of the surface with this id: all that an answer is made of, at a fraction of what reading
    /// every column costs. Where many ask a server at once, one statement finds several.
    ///
    /// # Errors
    /// What the database answered.
    #[instrument(name = "store.document", level = "debug", skip_all)]
    pub async fn document(&self, id: SurfaceId) -> Result<Option<(i64, String)>, StoreError> {
        let Glance { reader, tenant } = self.0;
        Ok(reader
            .document(*tenant, SurfaceRow::TABLE, id.uuid())
            .await?)
    }
}

impl<A: Access> Surfaces<'_, A> {
    /// The surface with this id.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn get(&self, id: SurfaceId) -> Result<Option<SurfaceRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// Those of these surfaces that are there, in the order of their ids.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn get_many(&self, ids: &[SurfaceId]) -> Result<Vec<SurfaceRow>, StoreError> {
        let ids: Vec<Uuid> = ids.iter().map(|id| id.uuid()).collect();
        table::get_many(self.0, &ids).await
    }

    /// The ids of the first `limit` surfaces that the filter lets through, in their order.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn ids(
        &self,
        filter: &SurfaceFilter,
        limit: u64,
    ) -> Result<Vec<SurfaceId>, StoreError> {
        let ids = table::ids::<SurfaceRow>(self.0, condition(filter), limit).await?;
        Ok(ids.into_iter().map(SurfaceId::from_uuid).collect())
    }

    /// Those of the surfaces with these external names that are there, in no order that counts.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn find_external_many(
        &self,
        externals: &[External],
    ) -> Result<Vec<SurfaceRow>, StoreError> {
        let mut wanted: Vec<&External> = externals.iter().collect();
        wanted.sort_unstable();
        wanted.dedup();
        let mut found = Vec::with_capacity(wanted.len());
        for chunk in wanted.chunks(table::MAX_KEYS) {
            let select = table::rows::<SurfaceRow>(self.0).filter(among(chunk));
            found.extend(table::all(self.0, select.order_by(Expr::col("id"), Order::Asc)).await?);
        }
        Ok(found)
    }

    /// The documents of surfaces in the order of a turn.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn documents(
        &self,
        filter: &SurfaceFilter,
        turn: Turn,
        limit: u64,
    ) -> Result<Page<String, Place>, StoreError> {
        let rows = table::documents::<SurfaceRow>(self.0, condition(filter), turn, limit).await?;
        let page = Page::cut(rows, limit, |(place, _)| *place);
        Ok(Page {
            items: page
                .items
                .into_iter()
                .map(|(_, document)| document)
                .collect(),
            next: page.next,
        })
    }

    /// Surfaces in the order of their ids, which is that of their registration.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn list(
        &self,
        filter: &SurfaceFilter,
        after: Option<SurfaceId>,
        limit: u64,
    ) -> Result<Page<SurfaceRow, SurfaceId>, StoreError> {
        let rows =
            table::list(self.0, condition(filter), after.map(SurfaceId::uuid), limit).await?;
        Ok(Page::cut(rows, limit, |row: &SurfaceRow| row.id))
    }

    /// What a register tells of surfaces, in the order of [`Surfaces::list`].
    ///
    /// # Errors
    /// What the database answered.
    pub async fn register(
        &self,
        filter: &SurfaceFilter,
        after: Option<SurfaceId>,
        limit: u64,
    ) -> Result<Page<RegisterLine, SurfaceId>, StoreError> {
        let (condition, after) = (condition(filter), after.map(SurfaceId::uuid));
        let mut select = table::page::<SurfaceRow>(self.0, condition, after).select_only();
        for column in REGISTER_COLUMNS {
            select = select.expr(Expr::col(column));
        }
        let select = select.expr(may_end(self.0.on().get_database_backend()));
        let rows = table::first(self.0, select, limit).await?;
        let rows: Result<_, _> = rows.iter().map(RegisterLine::read).collect();
        Ok(Page::cut(rows?, limit, |line: &RegisterLine| line.id))
    }
}

impl Surfaces<'_> {
    /// Writes all columns; `row.version` is the new version, `expected` the one that is there.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version. [`StoreError::Conflict`]: its external name is
    /// taken.
    pub async fn update(&self, row: &SurfaceRow, expected: i64) -> Result<(), StoreError> {
        table::update(self.0, row, row.id.uuid(), expected).await?;
        self.0.dues().mark(row.id.uuid()).await
    }

    /// Keeps others from locking the surface until this transaction ends; false if it is not there.
    ///
    /// # Errors
    /// [`StoreError::Contended`]: another transaction holds it for too long.
    pub async fn lock(&self, id: SurfaceId) -> Result<bool, StoreError> {
        table::lock::<SurfaceRow>(self.0, id.uuid()).await
    }

    /// Updates each surface with the version that is expected of it, in the order of their ids, so that two callers
    /// cannot wait for each other.
    ///
    /// # Errors
    /// As [`Surfaces::update`], for the first that fails.
    pub async fn update_many(&self, rows: &[(SurfaceRow, i64)]) -> Result<(), StoreError> {
        let mut rows: Vec<&(SurfaceRow, i64)> = rows.iter().collect();
        rows.sort_unstable_by_key(|(row, _)| row.id);
        for (row, expected) in rows {
            self.update(row, *expected).await?;
        }
        Ok(())
    }
}

/// The row is one that is asked for.
fn condition(filter: &SurfaceFilter) -> Condition {
    let materials = Some(&filter.materials).filter(|materials| !materials.is_empty());
    Condition::all()
        .add_option(filter.site_id.map(|id| table::is("site_id", id.uuid())))
        .add_option(
            filter
                .storey
                .as_ref()
                .map(|storey| table::is("storey", storey.clone())),
        )
        .add_option(
            materials.map(|materials| Expr::col("material").is_in(materials.iter().cloned())),
        )
        .add_option(filter.external.as_ref().map(by_external))
}

/// The row has one of these external names. One list per system, since few systems name many surfaces.
fn among(externals: &[&External]) -> Condition {
    let mut systems: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for external in externals {
        systems
            .entry(&external.system)
            .or_default()
            .push(&external.id);
    }
    systems
        .into_iter()
        .fold(Condition::any(), |any, (system, ids)| {
            let of_system = Condition::all()
                .add(table::is("external_system", system))
                .add(Expr::col("external_id").is_in(ids));
            any.add(of_system)
        })
}
