//! What can go wrong below, in the few kinds that a caller answers differently.

use std::error::Error;

use sea_orm::{DbErr, RuntimeErr, SqlErr, SqlxError};

/// The rule that a row would have broken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Constraint {
    /// The site has a budget for this year already.
    BudgetYear,
    /// Another completion that counts has this external name.
    CompletionExternal,
    /// Another completion already corrects the same one.
    CompletionSupersedes,
    /// Another contractor has this external name.
    ContractorExternal,
    /// The tenant has told what this finish word means.
    FinishWord,
    /// A row with this id is already there.
    Identity,
    /// Another observation that counts has this external name.
    ObservationExternal,
    /// Another product of the tenant has this key.
    ProductKey,
    /// Another reading that counts has this external name.
    ReadingExternal,
    /// Another edition of the site's rate card has this number.
    RateCardNumber,
    /// The row names another one that is not there, or that others still name.
    Reference,
    /// Another site has this external name.
    SiteExternal,
    /// Another surface has this external name.
    SurfaceExternal,
    /// Another tenant has this key.
    TenantKey,
}

/// Each rule with the name of its index (PostgreSQL says that) and its last column (SQLite says that).
const NAMES: &[(Constraint, &str, &str)] = &[
    (Constraint::BudgetYear, "uq_budgets_year", "budgets.year"),
    (
        Constraint::CompletionExternal,
        "uq_completions_external",
        "completions.external_id",
    ),
    (
        Constraint::ObservationExternal,
        "uq_observations_external",
        "observations.external_id",
    ),
    (
        Constraint::ReadingExternal,
        "uq_readings_external",
        "readings.external_id",
    ),
    (
        Constraint::CompletionSupersedes,
        "uq_completions_supersedes",
        "completions.supersedes",
    ),
    (
        Constraint::ContractorExternal,
        "uq_contractors_external",
        "contractors.external_id",
    ),
    (
        Constraint::FinishWord,
        "uq_finish_synonyms_word",
        "finish_synonyms.word",
    ),
    (Constraint::ProductKey, "uq_products_key", "products.key"),
    (
        Constraint::RateCardNumber,
        "uq_rate_cards_number",
        "rate_cards.number",
    ),
    (
        Constraint::SiteExternal,
        "uq_sites_external",
        "sites.external_id",
    ),
    (
        Constraint::SurfaceExternal,
        "uq_surfaces_external",
        "surfaces.external_id",
    ),
    (Constraint::TenantKey, "uq_tenants_key", "tenants.key"),
];

/// Why the store did not do what was asked. Nothing of the transaction remains.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The row would break a rule that holds between rows.
    #[error("the row breaks the rule {constraint:?}")]
    Conflict {
        /// Which rule.
        constraint: Constraint,
    },
    /// The row is not there in the version that was expected: somebody was faster.
    #[error("the row is not there in the expected version")]
    StaleVersion,
    /// Others held what was needed for too long; the same again may succeed.
    #[error("others held what was needed for too long")]
    Contended,
    /// A number that was worked out from rows is larger than any that is kept.
    #[error("a number is larger than any that is kept")]
    Overflow,
    /// A row holds what no row should hold.
    #[error("{table}.{column} of row {row} holds what it should not")]
    Corrupt {
        /// The table.
        table: &'static str,
        /// The column.
        column: &'static str,
        /// The row, by its id or key.
        row: String,
        /// What is wrong with it.
        source: Box<dyn Error + Send + Sync>,
    },
    /// The database cannot be reached or has no connection to spare; later may be better.
    #[error("the database gives no answer")]
    Unavailable {
        /// What the driver said.
        source: Box<dyn Error + Send + Sync>,
    },
    /// The statement was given up after the time that it may take: it asks for too much, or the server is busy.
    #[error("the database took too long")]
    TooLong {
        /// What the driver said.
        source: Box<dyn Error + Send + Sync>,
    },
    /// Anything else: a mistake in a statement, a failed check.
    #[error("the database refused a statement")]
    Driver {
        /// What the driver said.
        source: Box<dyn Error + Send + Sync>,
    },
}

/// Why a database was not opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// The URL names no database of a known kind.
    #[error(
        "a database URL is `sqlite://path` or `postgres://user@host/database`; in-memory files are refused"
    )]
    Url,
    /// A setting would let the database forget what it acknowledged, or accept what it must not.
    #[error("the database runs with {setting} = {found}; {wanted} is needed")]
    Weak {
        /// The setting.
        setting: &'static str,
        /// Its value.
        found: String,
        /// The value that it must have.
        wanted: &'static str,
    },
    /// It could not be reached.
    #[error("the database could not be opened")]
    Store(#[from] StoreError),
}

impl From<DbErr> for OpenError {
    fn from(error: DbErr) -> Self {
        Self::Store(error.into())
    }
}

impl From<DbErr> for StoreError {
    fn from(error: DbErr) -> Self {
        match error.sql_err() {
            Some(SqlErr::UniqueConstraintViolation(text)) => Self::Conflict {
                constraint: broken(&text),
            },
            Some(SqlErr::ForeignKeyConstraintViolation(_)) => Self::Conflict {
                constraint: Constraint::Reference,
            },
            _ => match kind(&error) {
                Kind::Contended => Self::Contended,
                Kind::Overflow => Self::Overflow,
                Kind::Unavailable => Self::Unavailable {
                    source: Box::new(error),
                },
                Kind::TooLong => Self::TooLong {
                    source: Box::new(error),
                },
                Kind::Other => Self::Driver {
                    source: Box::new(error),
                },
            },
        }
    }
}

/// Which rule the driver's text speaks of; a primary key if none of those that have a name.
fn broken(text: &str) -> Constraint {
    NAMES
        .iter()
        .find(|(_, index, column)| text.contains(index) || text.contains(column))
        .map_or(Constraint::Identity, |(constraint, ..)| *constraint)
}

enum Kind {
    Contended,
    Overflow,
    Unavailable,
    TooLong,
    Other,
}

fn kind(error: &DbErr) -> Kind {
    match error {
        DbErr::ConnectionAcquire(_) => Kind::Unavailable,
        DbErr::Conn(RuntimeErr::SqlxError(error))
        | DbErr::Exec(RuntimeErr::SqlxError(error))
        | DbErr::Query(RuntimeErr::SqlxError(error)) => driver_kind(error),
        _ => Kind::Other,
    }
}

fn driver_kind(error: &SqlxError) -> Kind {
    match error {
        SqlxError::Io(_)
        | SqlxError::Tls(_)
        | SqlxError::Protocol(_)
        | SqlxError::PoolTimedOut
        | SqlxError::PoolClosed
        | SqlxError::WorkerCrashed => Kind::Unavailable,
        SqlxError::Database(error) => {
            let code = error.code().unwrap_or_default();
            let sqlite = error
                .try_downcast_ref::<sea_orm::sqlx::sqlite::SqliteError>()
                .is_some();
            if sqlite && error.message() == "integer overflow" {
                // The one code for it is that of any mistake in a statement.
                Kind::Overflow
            } else if sqlite {
                sqlite_kind(&code)
            } else {
                postgres_kind(&code)
            }
        }
        _ => Kind::Other,
    }
}

/// The low byte of SQLite's extended codes is the primary one: 5 busy, 6 locked; 10 I/O, 13 full, 14 cannot open.
fn sqlite_kind(code: &str) -> Kind {
    match code.parse::<u32>().map(|code| code & 0xff) {
        Ok(5 | 6) => Kind::Contended,
        Ok(10 | 13 | 14) => Kind::Unavailable,
        _ => Kind::Other,
    }
}

/// PostgreSQL, appendix A: 40001 serialization, 40P01 deadlock, 55P03 lock timeout; 22003 number out
/// of range; 57014 statement timeout; classes
/// 08 connection, 53 resources, 57P shutdown; 25P03 idle in transaction; 3D000 no such database; 28 not let in.
fn postgres_kind(code: &str) -> Kind {
    match code {
        "40001" | "40P01" | "55P03" => Kind::Contended,
        "22003" => Kind::Overflow,
        "57014" => Kind::TooLong,
        "25P03" | "3D000" => Kind::Unavailable,
        _ if ["08", "28", "53", "57P"]
            .iter()
            .any(|class| code.starts_with(class)) =>
        {
            Kind::Unavailable
        }
        _ => Kind::Other,
    }
}
