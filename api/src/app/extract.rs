//! The ledger as files that other engines read: one Parquet file for each tenant and month.
//!
//! All files of a run are of one moment, and each takes the place of an earlier one in one step. `_SUCCESS` is taken away
//! before the first of them is touched and put back after the last, so what a run left half done never looks whole.

use std::{collections::BTreeSet, fmt, pin::pin};

use chrono::{DateTime, Utc};
use futures_util::{Stream, StreamExt as _};
use infra::{
    depot::{Depot, DepotError, Mark, Upload, safe_name},
    row::TenantRow,
    store::{LedgerLine, StoreError, Tx},
};
use parquet::errors::ParquetError;
use sha2::{Digest, Sha256};

use crate::{
    audit::{self, Deed},
    context::Parts,
    hex::hex,
    wire::{
        extract::{ExtractedMonth, LedgerFile, Manifest},
        report::Month,
    },
};

/// The operation under which the trail tells of it.
const OPERATION: &str = "extractLedger";
/// What says that every file of a tenant's folder is whole; engines pass over names that begin so.
const SUCCESS: &str = "_SUCCESS";
const MANIFEST: &str = "_manifest.json";
/// A month is one file, so that it is replaced in one step.
const FILE: &str = "part-0.parquet";
/// How many lines are in memory at once: a group of rows.
const AT_ONCE: usize = 50_000;

/// What was written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Told {
    n_months: usize,
    n_lines: u64,
    bytes: u64,
}

impl fmt::Display for Told {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            n_months,
            n_lines,
            bytes,
        } = self;
        write!(f, "{n_months} months, {n_lines} lines, {bytes} bytes")
    }
}

/// Why a tenant's folder is not whole.
#[derive(Debug, thiserror::Error)]
pub(crate) enum ExtractError {
    /// The database did not answer.
    #[error("the database did not hand the lines out")]
    Store(#[from] StoreError),
    /// The depot did not take it.
    #[error(transparent)]
    Depot(#[from] DepotError),
    /// A file could not be made.
    #[error("a file could not be made")]
    Parquet(#[from] ParquetError),
    /// The manifest could not be made.
    #[error("the manifest could not be made")]
    Json(#[from] serde_json::Error),
    /// It could not be written down who took what.
    #[error("the audit trail did not take it: {0}")]
    Audit(String),
    /// There is a manifest that is none.
    #[error("`{0}` is no manifest: take the folder away and extract everything")]
    Manifest(String),
    /// A line has a month that is none.
    #[error("a line is of month `{0}`, which is none")]
    Month(String),
    /// Another run wrote to the folder.
    #[error("another run wrote to the folder meanwhile: run it again, one at a time")]
    Meanwhile,
    /// An earlier run left months that this one did not cover.
    #[error("an earlier run was cut off: extract {} too", .0.join(", "))]
    Unfinished(Vec<String>),
}

/// Writes the months of a tenant from the first up to, not including, the second; all that there are where none is named.
///
/// # Errors
/// [`ExtractError`]; once a file was touched the folder has no `_SUCCESS` then.
pub(crate) async fn extract(
    parts: &Parts,
    depot: &Depot,
    tenant: &TenantRow,
    months: (Option<Month>, Option<Month>),
) -> Result<Told, ExtractError> {
    let run = Run {
        depot,
        folder: format!("tenant={}", safe_name(&tenant.key)),
        id: parts.ids.uuid().to_string(),
        as_of: parts.clock.now(),
    };
    write_down(parts, tenant, run.as_of).await?;
    let tx = parts.store.extraction(tenant.id).await?;
    let mut manifest = run.manifest(&tenant.key).await?;
    let covered = run.covered(&tx, &manifest, months).await?;
    run.begin(&mut manifest, &covered).await?;
    let (mut told, mut marks) = (Told::default(), Vec::new());
    for month in &covered {
        let month = month.to_string();
        if let Some((file, mark)) = run.write(&tx, &month).await? {
            told.n_months += 1;
            told.n_lines += file.n_lines;
            told.bytes += file.n_bytes;
            manifest.months.insert(month.clone(), file);
            marks.push((month.clone(), mark));
        }
        manifest.unfinished.remove(&month);
    }
    drop(tx);
    run.end(&manifest, &marks).await?;
    Ok(told)
}

async fn write_down(
    parts: &Parts,
    tenant: &TenantRow,
    now: DateTime<Utc>,
) -> Result<(), ExtractError> {
    let tx = parts.store.begin(tenant.id).await?;
    let deed = Deed {
        operation: OPERATION,
        resource: "/v1/reports/costs",
        after: None,
    };
    let done = audit::append(&tx, deed, now).await;
    done.map_err(|problem| ExtractError::Audit(problem.to_string()))?;
    Ok(tx.commit().await?)
}

/// One run over one tenant's folder.
struct Run<'a> {
    depot: &'a Depot,
    folder: String,
    id: String,
    as_of: DateTime<Utc>,
}

impl Run<'_> {
    /// What the folder says of itself.
    async fn manifest(&self, tenant: &str) -> Result<Manifest, ExtractError> {
        let found = self.depot.read(&[&self.folder, MANIFEST]).await?;
        let none = || Manifest {
            tenant: tenant.to_owned(),
            ..Manifest::default()
        };
        let is_none_of_ours = || ExtractError::Manifest(format!("{}/{MANIFEST}", self.folder));
        found.map_or_else(
            || Ok(none()),
            |bytes| Manifest::read(&bytes).ok_or_else(is_none_of_ours),
        )
    }

    /// The months to be written: those with lines, and those of which there is a file that lines may be gone from.
    async fn covered(
        &self,
        tx: &Tx,
        manifest: &Manifest,
        (from, to): (Option<Month>, Option<Month>),
    ) -> Result<BTreeSet<Month>, ExtractError> {
        let first = from.map_or_else(|| "0000-00".to_owned(), |month| month.to_string());
        let last = to.map_or_else(|| "9999-99".to_owned(), |month| month.to_string());
        let with_lines = tx.extracts().months(&first, &last).await?;
        let folders = self.depot.folders(&[&self.folder]).await?;
        let with_files = folders
            .iter()
            .filter_map(|name| name.strip_prefix("month="));
        let told = manifest.months.keys().chain(&manifest.unfinished);
        let is_within = |month: &Month| {
            from.is_none_or(|from| from <= *month) && to.is_none_or(|to| *month < to)
        };
        let with_files = with_files.chain(told.map(String::as_str));
        let mut covered: BTreeSet<Month> = with_files
            .filter_map(|month| month.parse().ok())
            .filter(is_within)
            .collect();
        for month in with_lines {
            let read = month.parse();
            covered.insert(read.map_err(|_no_month| ExtractError::Month(month))?);
        }
        Ok(covered)
    }

    /// Says that these months are being written, before any of them is touched.
    async fn begin(
        &self,
        manifest: &mut Manifest,
        covered: &BTreeSet<Month>,
    ) -> Result<(), ExtractError> {
        self.depot.delete(&[&self.folder, SUCCESS]).await?;
        manifest.run.clone_from(&self.id);
        for month in covered.iter().map(Month::to_string) {
            manifest.months.remove(&month);
            manifest.unfinished.insert(month);
        }
        self.put_manifest(manifest).await
    }

    async fn put_manifest(&self, manifest: &Manifest) -> Result<(), ExtractError> {
        let bytes = manifest.write()?;
        Ok(self.depot.put(&[&self.folder, MANIFEST], bytes).await?)
    }

    /// Writes the file of a month, or takes it away where there are no lines.
    async fn write(
        &self,
        tx: &Tx,
        month: &str,
    ) -> Result<Option<(ExtractedMonth, Option<Mark>)>, ExtractError> {
        let folder = format!("month={month}");
        let names = [self.folder.as_str(), &folder, FILE];
        let mut lines = pin!(tx.extracts().lines(month).await?.peekable());
        if lines.as_mut().peek().await.is_none() {
            self.depot.delete(&names).await?;
            return Ok(None);
        }
        // Nothing of the run: the same lines give the same bytes.
        let about = [("tenant", self.folder.clone()), ("month", month.to_owned())];
        let mut part = Part {
            upload: self.depot.begin(&names).await?,
            hash: Sha256::new(),
            n_bytes: 0,
        };
        match part.fill(lines, &about).await {
            Ok(n_lines) => {
                let mark = part.upload.finish().await?;
                let hash = hex(&part.hash.finalize());
                let file = ExtractedMonth::new((n_lines, part.n_bytes), hash, self.as_of);
                Ok(Some((file, mark)))
            }
            Err(error) => {
                // What failed first is what is told.
                let _unseen = part.upload.abort().await;
                Err(error)
            }
        }
    }

    /// Two runs wrote, so nobody knows whose files are there: whichever ended first, it is not whole.
    async fn meanwhile(&self) -> Result<(), ExtractError> {
        self.depot.delete(&[&self.folder, SUCCESS]).await?;
        Err(ExtractError::Meanwhile)
    }

    /// Says that the folder is whole, if it is.
    async fn end(
        &self,
        manifest: &Manifest,
        marks: &[(String, Option<Mark>)],
    ) -> Result<(), ExtractError> {
        for (month, mark) in marks {
            let folder = format!("month={month}");
            let there = self.depot.mark(&[&self.folder, &folder, FILE]).await?;
            if mark.is_some() && there != *mark {
                return self.meanwhile().await;
            }
        }
        if self.manifest(&manifest.tenant).await?.run != self.id {
            return self.meanwhile().await;
        }
        self.put_manifest(manifest).await?;
        if !manifest.unfinished.is_empty() {
            let months = manifest.unfinished.iter().cloned().collect();
            return Err(ExtractError::Unfinished(months));
        }
        Ok(self.depot.put(&[&self.folder, SUCCESS], Vec::new()).await?)
    }
}

/// A file on its way.
struct Part {
    upload: Upload,
    hash: Sha256,
    n_bytes: u64,
}

impl Part {
    /// Writes all lines and says how many.
    async fn fill(
        &mut self,
        mut lines: impl Stream<Item = Result<LedgerLine, StoreError>> + Unpin,
        about: &[(&str, String)],
    ) -> Result<u64, ExtractError> {
        let mut file = LedgerFile::new(about)?;
        let (mut batch, mut n_lines) = (Vec::with_capacity(AT_ONCE), 0_u64);
        while let Some(line) = lines.next().await {
            batch.push(line?);
            n_lines += 1;
            if batch.len() == AT_ONCE {
                self.send(&file.put(&batch)?).await?;
                batch.clear();
            }
        }
        if !batch.is_empty() {
            self.send(&file.put(&batch)?).await?;
        }
        self.send(&file.finish()?).await?;
        Ok(n_lines)
    }

    async fn send(&mut self, bytes: &[u8]) -> Result<(), ExtractError> {
        self.hash.update(bytes);
        self.n_bytes += u64::try_from(bytes.len()).unwrap_or(u64::MAX);
        Ok(self.upload.write(bytes).await?)
    }
}
