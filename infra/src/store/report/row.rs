//! A row of a report: what tells it apart, and its sums.

use domain::id::{CompletionId, ContractorId, SiteId, SurfaceId};
use domain::money::Currency;
use sea_orm::QueryResult;
use uuid::Uuid;

use super::Dim;
use crate::store::StoreError;

/// What tells the rows of one report apart. What it was not grouped by is none.
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash)]
pub struct CostKey {
    /// The site.
    pub site_id: Option<SiteId>,
    /// The storey.
    pub storey: Option<String>,
    /// The surface.
    pub surface_id: Option<SurfaceId>,
    /// The material.
    pub material: Option<String>,
    /// The process.
    pub process: Option<String>,
    /// The stage; none also for lines that belong to no stage.
    pub stage: Option<String>,
    /// The contractor; none also for work by nobody named, and for what is committed.
    pub contractor_id: Option<ContractorId>,
    /// The class of product; none also for lines that are for none.
    pub product_class: Option<String>,
    /// The month, `YYYY-MM`.
    pub month: Option<String>,
    /// The quarter, `YYYY-Qn`.
    pub quarter: Option<String>,
    /// The year, `YYYY`.
    pub year: Option<String>,
    /// The completion.
    pub completion_id: Option<CompletionId>,
}

impl CostKey {
    fn read(row: &QueryResult, dims: &[Dim]) -> Result<Self, StoreError> {
        let text = |dim: Dim| -> Result<Option<String>, StoreError> {
            let asked = dims.contains(&dim);
            Ok(asked
                .then(|| row.try_get("", dim.column()))
                .transpose()?
                .flatten())
        };
        let id = |dim: Dim| -> Result<Option<Uuid>, StoreError> {
            let asked = dims.contains(&dim);
            let found: Option<Uuid> = asked
                .then(|| row.try_get("", dim.column()))
                .transpose()?
                .flatten();
            // Rollups write nobody down as the nil id, because a key holds no NULL.
            Ok(found.filter(|id| !id.is_nil()))
        };
        Ok(Self {
            site_id: id(Dim::Site)?.map(SiteId::from_uuid),
            storey: text(Dim::Storey)?,
            surface_id: id(Dim::Surface)?.map(SurfaceId::from_uuid),
            material: text(Dim::Material)?,
            process: text(Dim::Process)?,
            stage: text(Dim::Stage)?,
            contractor_id: id(Dim::Contractor)?.map(ContractorId::from_uuid),
            product_class: text(Dim::ProductClass)?,
            month: text(Dim::Month)?,
            quarter: text(Dim::Quarter)?,
            year: text(Dim::Year)?,
            completion_id: id(Dim::Completion)?.map(CompletionId::from_uuid),
        })
    }
}

macro_rules! sums {
    ($($(#[$doc:meta])* $name:ident,)+) => {
        /// The sums of one row; those that a row has nothing of are zero.
        #[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
        pub struct CostSums {
            $($(#[$doc])* pub $name: i64,)+
        }

        impl CostSums {
            /// Their columns.
            pub(crate) const COLUMNS: &'static [&'static str] = &[$(stringify!($name)),+];

            fn read(row: &QueryResult) -> Result<Self, StoreError> {
                Ok(Self { $($name: row.try_get("", stringify!($name))?,)+ })
            }

            /// Both together; `None` if one lies outside the ledger.
            #[must_use]
            pub fn plus(&self, other: &Self) -> Option<Self> {
                Some(Self { $($name: self.$name.checked_add(other.$name)?,)+ })
            }
        }
    };
}

sums! {
    /// How many completions; of those that have a line in the row.
    n_completions,
    /// How many of them cite no plan.
    n_unplanned,
    /// The area in mm² that was worked on, each completion that has a line in the row once.
    area_mm2,
    /// Planned working time in seconds.
    planned_seconds,
    /// Reported working time in seconds.
    actual_seconds,
    /// Planned volume in millilitres.
    planned_ml,
    /// Reported volume in millilitres.
    actual_ml,
    /// Water in millilitres that the reported products were made up with, at their own dilution.
    water_ml,
    /// Volatile organic compounds in the reported products, in milligrams.
    voc_mg,
    /// Reported volume in millilitres of products whose sheet does not tell them.
    voc_unknown_ml,
    /// Planned cost without tax in 1/10,000 of the currency's unit.
    planned_net,
    /// The cost without tax that the rate card gives for what was reported.
    computed_net,
    /// The cost without tax that counts.
    actual_net,
    /// Planned tax.
    planned_tax,
    /// The tax that counts.
    actual_tax,
    /// Of what actual exceeds planned: litres, at the planned price.
    quantity_net,
    /// Of what actual exceeds planned: hours, at the planned rate.
    productivity_net,
    /// Of what actual exceeds planned: contingency, overhead and margin.
    overheads_net,
    /// Of what actual exceeds planned: work that no part of a plan was left for.
    unplanned_net,
}

impl CostSums {
    /// Of what actual exceeds planned: all that is neither quantity, productivity, overheads nor unplanned.
    pub const fn price_net(&self) -> i64 {
        self.variance_net()
            .saturating_sub(self.quantity_net)
            .saturating_sub(self.productivity_net)
            .saturating_sub(self.overheads_net)
            .saturating_sub(self.unplanned_net)
    }

    /// What actual exceeds planned, without tax.
    pub const fn variance_net(&self) -> i64 {
        self.actual_net.saturating_sub(self.planned_net)
    }
}

/// One row of a report.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CostRow {
    /// What tells it apart.
    pub key: CostKey,
    /// The currency of the amounts; two are never added.
    pub currency: Currency,
    /// What completions come to.
    pub sums: CostSums,
    /// The area in mm² of the floors that were worked on, each once, as they are registered now. No sum: rows share floors.
    pub floor_mm2: i64,
    /// The area in mm² that was worked on again, where that was asked for.
    pub rework_mm2: i64,
    /// What is left to do of accepted plans, without tax, by the month in which they were accepted.
    pub committed_net: i64,
    /// The tax on it.
    pub committed_tax: i64,
}

impl CostRow {
    /// A row that holds nothing.
    pub fn empty(key: CostKey, currency: Currency) -> Self {
        Self {
            key,
            currency,
            sums: CostSums::default(),
            floor_mm2: 0,
            rework_mm2: 0,
            committed_net: 0,
            committed_tax: 0,
        }
    }

    /// The row of a statement that has the columns of `dims` and the currency, without sums.
    pub(super) fn bare(row: &QueryResult, dims: &[Dim]) -> Result<Self, StoreError> {
        let currency: String = row.try_get("", "currency")?;
        let parsed = currency.parse().map_err(|source| StoreError::Corrupt {
            table: "completion_lines",
            column: "currency",
            row: currency.clone(),
            source: Box::new(source),
        })?;
        Ok(Self::empty(CostKey::read(row, dims)?, parsed))
    }

    /// The row of a statement that also has the sums.
    pub(super) fn read(row: &QueryResult, dims: &[Dim]) -> Result<Self, StoreError> {
        Ok(Self {
            sums: CostSums::read(row)?,
            floor_mm2: row.try_get("", "floor_mm2")?,
            ..Self::bare(row, dims)?
        })
    }
}
