//! The audit trail: who did what to which record, each row tied to the one before by a hash.
//!
//! A row is added in the transaction of what it tells of, so there is none without the other. Whoever changes, leaves out or
//! puts in a row afterwards breaks the chain; what was cut off its end shows against a hash that was noted before.

use std::fmt;

use chrono::{DateTime, Utc};
use domain::id::TenantId;
use infra::{
    row::AuditRow,
    store::{StoreError, Tx},
};
use sha2::{Digest, Sha256};

use crate::{
    auth::{Actor, Scope},
    context::Context,
    problem::Problem,
    write,
};

/// Begins what is hashed; another way of doing so would get another number.
const FORM: &[u8] = b"wearcourse audit 1";

/// Something that is about to have been done.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Deed<'a> {
    /// The operation of the API.
    pub(crate) operation: &'a str,
    /// The path of what it was done to.
    pub(crate) resource: &'a str,
    /// The document that is answered, unless it holds a secret or there is none.
    pub(crate) after: Option<&'a [u8]>,
}

/// Writes down what is done in a transaction, as its last statement: the chain's end is held until it commits.
///
/// # Errors
/// Those of the store.
pub(crate) async fn append(tx: &Tx, deed: Deed<'_>, now: DateTime<Utc>) -> Result<(), Problem> {
    let end = tx.audits().end(deed.resource).await?;
    let by = tx.by();
    let mut row = AuditRow {
        number: end.number.saturating_add(1),
        at: now,
        client: by.map(|by| by.client.clone()),
        subject: by.map(|by| by.subject.clone()),
        operation: deed.operation.to_owned(),
        resource: deed.resource.to_owned(),
        before: end.before,
        after: deed.after.map(|document| hex(&Sha256::digest(document))),
        hash: String::new(),
    };
    row.hash = hash(tx.tenant(), &end.hash, &row);
    Ok(tx.audits().append(&row).await?)
}

/// Writes down that an answer took records out of the service.
///
/// # Errors
/// Those of the store.
pub(crate) async fn exported<S: Scope>(
    ctx: &Context,
    actor: &Actor<S>,
    resource: &str,
) -> Result<(), Problem> {
    let deed = Deed {
        operation: actor.operation(),
        resource,
        after: None,
    };
    write::attempts(ctx, actor.tenant(), &actor.by(), async |tx| {
        append(&tx, deed, ctx.clock.now()).await?;
        Ok(tx.commit().await?)
    })
    .await
}

/// The path of the record that a path is about: without the word behind it that says what to do with the record.
pub(crate) fn record_of(path: &str) -> &str {
    let n_parts = path.matches('/').count();
    match path.rsplit_once('/') {
        Some((record, _)) if n_parts == 4 => record,
        _ => path,
    }
}

/// The hash of a row that follows one with the hash `before`.
fn hash(tenant: TenantId, before: &str, row: &AuditRow) -> String {
    let mut hash = Sha256::new_with_prefix(FORM);
    let mut add = |part: Option<&[u8]>| {
        // The length keeps one part from running into the next, and what is missing from what is empty.
        let length = part.map_or(u64::MAX, |part| {
            u64::try_from(part.len()).unwrap_or(u64::MAX)
        });
        hash.update(length.to_be_bytes());
        hash.update(part.unwrap_or_default());
    };
    add(Some(tenant.uuid().as_bytes()));
    add(Some(before.as_bytes()));
    add(Some(&row.number.to_be_bytes()));
    add(Some(&row.at.timestamp_millis().to_be_bytes()));
    for text in [&row.client, &row.subject, &row.before, &row.after] {
        add(text.as_ref().map(String::as_bytes));
    }
    for text in [&row.operation, &row.resource] {
        add(Some(text.as_bytes()));
    }
    hex(&hash.finalize())
}

fn hex(bytes: &[u8]) -> String {
    use fmt::Write as _;
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string does not fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// What is wrong at one place of a chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Break {
    /// The row that should have this number is not there.
    Missing(i64),
    /// The row with this number is not what was written, or does not follow the one before.
    Changed(i64),
}

impl fmt::Display for Break {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Missing(number) => write!(f, "row {number} is not there"),
            Self::Changed(number) => write!(f, "row {number} is not what was written"),
        }
    }
}

/// A chain that is being verified, row by row.
#[derive(Debug, Clone)]
pub(crate) struct Chain {
    tenant: TenantId,
    /// The number of the last row that was looked at.
    pub(crate) number: i64,
    /// Its hash.
    pub(crate) hash: String,
}

/// The operation of a row that says up to where a trail was cut off.
pub(crate) const CUT: &str = "cutAudit";

/// What a row with [`CUT`] is about: the rows up to a number.
pub(crate) fn cut_at(number: i64) -> String {
    format!("/v1/audit?up_to={number}")
}

/// Writes down that a trail is cut off behind a row: its hash stands where others have that of a document, so that what is
/// left can be verified from there.
///
/// # Errors
/// Those of the store.
pub(crate) async fn cut(tx: &Tx, last: &AuditRow, now: DateTime<Utc>) -> Result<(), StoreError> {
    let resource = cut_at(last.number);
    let end = tx.audits().end(&resource).await?;
    let mut row = AuditRow {
        number: end.number.saturating_add(1),
        at: now,
        client: None,
        subject: None,
        operation: CUT.to_owned(),
        resource,
        before: None,
        after: Some(last.hash.clone()),
        hash: String::new(),
    };
    row.hash = hash(tx.tenant(), &end.hash, &row);
    tx.audits().append(&row).await
}

impl Chain {
    /// A chain that goes on behind a row with this number and hash.
    pub(crate) const fn behind(tenant: TenantId, number: i64, hash: String) -> Self {
        Self {
            tenant,
            number,
            hash,
        }
    }

    /// The beginning of a tenant's chain.
    pub(crate) const fn new(tenant: TenantId) -> Self {
        Self {
            tenant,
            number: 0,
            hash: String::new(),
        }
    }

    /// Looks at the next row. After a break it goes on from what is there, so that each is told once.
    ///
    /// # Errors
    /// [`Break`].
    pub(crate) fn follow(&mut self, row: &AuditRow) -> Result<(), Break> {
        let expected = self.number.saturating_add(1);
        let is_right = row.hash == hash(self.tenant, &self.hash, row);
        self.number = row.number;
        row.hash.clone_into(&mut self.hash);
        if row.number != expected {
            return Err(Break::Missing(expected));
        }
        is_right.then_some(()).ok_or(Break::Changed(expected))
    }
}

#[cfg(test)]
mod tests {
    use chrono::{DateTime, TimeDelta};
    use domain::id::TenantId;
    use infra::row::AuditRow;
    use uuid::Uuid;

    use super::{Break, Chain, hash};

    fn tenant() -> TenantId {
        TenantId::from_uuid(Uuid::from_u128(7))
    }

    /// A chain of a thousand rows.
    fn chain() -> Vec<AuditRow> {
        let mut rows: Vec<AuditRow> = Vec::new();
        for number in 1..=1_000_i64 {
            let mut row = AuditRow {
                number,
                at: DateTime::UNIX_EPOCH + TimeDelta::milliseconds(number * 7),
                client: Some(format!("client {}", number % 3)),
                subject: (number % 5 != 0).then(|| format!("subject {}", number % 7)),
                operation: "registerSite".to_owned(),
                resource: format!("/v1/sites/{number}"),
                before: (number % 2 == 0).then(|| format!("{number:064x}")),
                after: Some(format!("{number:064x}")),
                hash: String::new(),
            };
            let before = rows.last().map_or("", |row| row.hash.as_str());
            row.hash = hash(tenant(), before, &row);
            rows.push(row);
        }
        rows
    }

    fn breaks(rows: &[AuditRow]) -> Vec<Break> {
        let mut chain = Chain::new(tenant());
        rows.iter()
            .filter_map(|row| chain.follow(row).err())
            .collect()
    }

    fn flip(text: &mut String) {
        let mut bytes = std::mem::take(text).into_bytes();
        let at = bytes.len() / 2;
        bytes[at] ^= 1;
        *text = String::from_utf8(bytes).unwrap();
    }

    #[test]
    fn o_10_a_byte_that_is_flipped_in_any_of_a_thousand_rows_is_found_there() {
        let rows = chain();
        assert_eq!(breaks(&rows), []);
        for (index, number) in (0..rows.len()).zip(1..) {
            let mut changed = rows.clone();
            let row = &mut changed[index];
            match index % 8 {
                0 => row.at += TimeDelta::milliseconds(1),
                1 => flip(row.client.as_mut().unwrap()),
                2 if row.subject.is_some() => flip(row.subject.as_mut().unwrap()),
                3 => flip(&mut row.operation),
                4 => flip(&mut row.resource),
                5 if row.before.is_some() => flip(row.before.as_mut().unwrap()),
                6 => flip(row.after.as_mut().unwrap()),
                _ => flip(&mut row.hash),
            }
            assert_eq!(breaks(&changed)[0], Break::Changed(number), "{index}");
        }
    }

    #[test]
    fn o_10_a_row_that_is_left_out_put_in_moved_or_anothers_is_found() {
        let rows = chain();
        let mut without = rows.clone();
        without.remove(499);
        assert_eq!(breaks(&without), [Break::Missing(500)]);
        let mut doubled = rows.clone();
        doubled.insert(500, rows[499].clone());
        assert_eq!(breaks(&doubled)[0], Break::Missing(501));
        let mut swapped = rows.clone();
        swapped.swap(9, 10);
        assert_eq!(breaks(&swapped)[0], Break::Missing(10));
        let mut others = Chain::new(TenantId::from_uuid(Uuid::from_u128(8)));
        assert_eq!(others.follow(&rows[0]), Err(Break::Changed(1)));
        // What is missing is not what is empty.
        let mut empty = rows.clone();
        empty[4].subject = Some(String::new());
        assert_eq!(breaks(&empty), [Break::Changed(5)]);
        // A chain that ends early is whole by itself: only its last hash tells.
        assert_eq!(breaks(&rows[..990]), []);
        let mut short = Chain::new(tenant());
        rows[..990]
            .iter()
            .for_each(|row| short.follow(row).unwrap());
        assert_ne!(short.hash, rows[999].hash);
    }
}
