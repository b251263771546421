//! A report through a link: recorded once, by the same use case that callers with a token reach.

use infra::{
    row::{CompletionLinkRow, CompletionRow, External},
    store::{Begin, By, StoreError, Tx},
};
use sha2::{Digest, Sha256};

use super::{Opened, nothing, opens};
use crate::{
    app::completion::{self, Origin},
    audit::{self, Deed},
    context::Context,
    hex::hex,
    problem::{Code, Problem},
    wire::{self, completion::CompletionRequest},
    write,
};

/// The operation that the trail names.
const OPERATION: &str = "submitCompletionForm";
/// What reports are called that came through a form: the system, and the link with the form's own key.
const SYSTEM: &str = "completion-form";
/// All that comes with one key is one report, whatever it says by then: see [`Reported::changed`].
const ONE_REPORT: &str = "completion-form";

/// What was sent through a form.
#[derive(Debug)]
pub(crate) struct Sent<'a> {
    /// The form's own key: whatever comes with it again is the same report.
    pub(crate) key: &'a str,
    /// The report, without what the link says.
    pub(crate) request: CompletionRequest,
}

/// What is recorded of a report.
#[derive(Debug)]
pub(crate) struct Reported {
    /// The completion, as it was recorded.
    pub(crate) document: String,
    /// Whether it was recorded before.
    pub(crate) before: bool,
    /// Whether something else was sent now than what is recorded.
    pub(crate) changed: bool,
}

/// Records a report through a link, once for each key.
///
/// # Errors
/// `invalid_body` with every fault; `not_found` for a link that was revoked meanwhile; `state_conflict` for one through which
/// no more reports may be made; `idempotency_in_flight`; `contended`; those of the store.
pub(crate) async fn report(
    ctx: &Context,
    opened: &Opened,
    sent: &Sent<'_>,
) -> Result<Reported, Problem> {
    let (link, tenant) = (&opened.link, opened.tenant);
    let client = link.id.to_string();
    let by = By {
        subject: link
            .contractor_id
            .map_or_else(|| client.clone(), |id| id.to_string()),
        client: client.clone(),
    };
    let request = CompletionRequest {
        surface_id: opened.plan.surface_id.to_string(),
        plan_id: Some(opened.plan.id.to_string()),
        contractor_id: link.contractor_id.map(|id| id.to_string()),
        external: Some(wire::external::External {
            system: SYSTEM.to_owned(),
            id: format!("{}.{}", link.id, sent.key),
        }),
        ..sent.request.clone()
    };
    let said = hex(&Sha256::digest(wire::document(&request)?));
    let turn = ctx.running.begin(tenant, &client, sent.key).await;
    let _turn = turn.ok_or_else(write::in_flight)?;
    write::attempts(ctx, tenant, &by, async |tx| {
        let now = ctx.clock.now();
        let known = tx
            .idempotency()
            .begin(&client, sent.key, ONE_REPORT, now)
            .await?;
        match known {
            Begin::Started => {}
            Begin::Stored(kept) => {
                return Ok(Reported {
                    document: String::from_utf8_lossy(&kept.body).into_owned(),
                    before: true,
                    changed: kept.headers != said,
                });
            }
            Begin::InFlight | Begin::OtherFingerprint => return Err(write::in_flight()),
        }
        // Keys are forgotten after a while; the name of a report is not.
        if let Some(row) = recorded(&tx, &request).await? {
            return Ok(Reported {
                document: row.document,
                before: true,
                changed: false,
            });
        }
        let row = record(ctx, &tx, (link, &request)).await?;
        tx.idempotency()
            .finish(201, &said, row.document.as_bytes())
            .await?;
        if ctx.running.is_to_sweep() {
            tx.idempotency().sweep(now).await?;
        }
        let deed = Deed {
            operation: OPERATION,
            resource: &format!("/v1/completions/{}", row.id),
            after: Some(row.document.as_bytes()),
        };
        audit::append(&tx, deed, now).await?;
        tx.commit().await?;
        Ok(Reported {
            document: row.document,
            before: false,
            changed: false,
        })
    })
    .await
}

/// The completion that has the report's name.
async fn recorded(tx: &Tx, request: &CompletionRequest) -> Result<Option<CompletionRow>, Problem> {
    match &request.external {
        Some(external) => {
            let external = External::from(external);
            Ok(tx.completions().find_external(&external).await?)
        }
        None => Ok(None),
    }
}

/// Counts the report and records it.
async fn record(
    ctx: &Context,
    tx: &Tx,
    (link, request): (&CompletionLinkRow, &CompletionRequest),
) -> Result<CompletionRow, Problem> {
    let now = ctx.clock.now();
    let link = tx.completion_links().get(link.id).await?;
    let link = link.filter(|row| opens(row, now)).ok_or_else(nothing)?;
    if link.n_reports >= link.max_reports {
        let detail = "As many reports as may be were made through this link.";
        return Err(Problem::new(Code::StateConflict, detail));
    }
    let row = completion::record(ctx, tx, (request, Origin::Link)).await?;
    let counted = CompletionLinkRow {
        version: link.version.saturating_add(1),
        n_reports: link.n_reports.saturating_add(1),
        updated_at: now,
        ..link
    };
    let done = tx.completion_links().update(&counted, link.version).await;
    match done {
        // Another report was counted meanwhile, or the link was taken back: look again.
        Err(StoreError::StaleVersion) => Err(StoreError::Contended.into()),
        done => {
            done?;
            Ok(row)
        }
    }
}
