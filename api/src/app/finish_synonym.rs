//! Finish words of a tenant's own: what its building files mean by them.

use domain::{
    id::{FinishSynonymId, TenantId},
    knowledge::folded,
};
pub(crate) use infra::row::FinishSynonymRow;
use infra::store::{MAX_FINISH_SYNONYMS, Page, Tx};

use crate::{
    body::Faults, context::Context, problem::Problem, wire::finish_synonym::FinishSynonymRequest,
};

/// What a word may mean beside a material.
const OTHERS: [&str; 2] = ["soft", "mixed"];

/// Keeps a word.
///
/// # Errors
/// `invalid_body` for a material that is not known, or too many words; `already_exists` if the word is told already; those of
/// the store.
pub(crate) async fn tell(
    ctx: &Context,
    tx: &Tx,
    request: &FinishSynonymRequest,
) -> Result<FinishSynonymRow, Problem> {
    let mut faults = Faults::new();
    let means = request.means.as_str();
    if !OTHERS.contains(&means) && ctx.knowledge.material(means).is_none() {
        let detail = format!(
            "No material is named `{means}`; GET /v1/materials lists them. Or `soft`, or `mixed`."
        );
        faults.push("#/means", "unknown_material", detail);
    }
    let told = tx.finish_synonyms().all().await?;
    if u64::try_from(told.len()).is_ok_and(|n| n >= MAX_FINISH_SYNONYMS) {
        let detail = "You have told 2,000 words: delete some that your files do not use any more.";
        faults.push("#/finish", "too_many", detail);
    }
    faults.finish()?;
    let row = FinishSynonymRow {
        id: FinishSynonymId::from_uuid(ctx.ids.uuid()),
        version: 1,
        word: folded(&request.finish),
        means: means.to_owned(),
        created_at: ctx.clock.now(),
    };
    tx.finish_synonyms().insert(&row).await?;
    Ok(row)
}

/// Up to `limit` words after an id.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    after: Option<FinishSynonymId>,
    limit: u64,
) -> Result<Page<FinishSynonymRow, FinishSynonymId>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    Ok(tx.finish_synonyms().list(after, limit).await?)
}

/// One word.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn find(tx: &Tx, id: FinishSynonymId) -> Result<FinishSynonymRow, Problem> {
    let found = tx.finish_synonyms().get(id).await?;
    found.ok_or_else(Problem::not_found)
}
