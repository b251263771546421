//! What is said of a completion after it was recorded: deviations that somebody acknowledged, and that it is void.

use infra::row::{CompletionRow, CompletionStatus};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use utoipa::ToSchema;

use crate::{
    problem::Problem,
    wire::{document, remark::Remark, stored},
};

/// A deviation that somebody has looked at.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"deviation": "other_product", "reason": "The planned stripper was out of stock; label checked."}))]
pub(crate) struct AcknowledgeRequest {
    /// The `code` of the deviation; all with this code are acknowledged.
    #[schema(min_length = 1, max_length = 60, pattern = "^[a-z_]+$")]
    pub(crate) deviation: String,
    /// Why it is accepted.
    #[schema(min_length = 1, max_length = 500, pattern = r"\S")]
    pub(crate) reason: String,
}

/// What was said, as it is kept.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct Amendment {
    /// The deviation that was acknowledged; none if the completion was voided.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) deviation: Option<String>,
    /// Who, when and why.
    pub(crate) remark: Remark,
}

/// All that was said of a completion, in its order.
///
/// # Errors
/// `internal` for amendments that are not what was written.
pub(crate) fn amendments(row: &CompletionRow) -> Result<Vec<Amendment>, Problem> {
    if row.amendments.is_empty() {
        return Ok(Vec::new());
    }
    stored(&row.amendments)
}

/// The codes of the deviations that a completion was recorded with.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn deviations_of(row: &CompletionRow) -> Result<Vec<String>, Problem> {
    #[derive(Deserialize)]
    struct Kept {
        #[serde(default)]
        deviations: Vec<Coded>,
    }
    #[derive(Deserialize)]
    struct Coded {
        code: String,
    }
    let kept: Kept = stored(&row.document)?;
    Ok(kept
        .deviations
        .into_iter()
        .map(|found| found.code)
        .collect())
}

/// The document of a row as it stands now: what was recorded, and what became of it. A document is written once; what
/// corrects it, whether it is void and which deviations were acknowledged is told later.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn as_it_stands(row: CompletionRow) -> Result<String, Problem> {
    if row.status == CompletionStatus::Recorded && row.amendments.is_empty() {
        return Ok(row.document);
    }
    let mut kept: Map<String, Value> = stored(&row.document)?;
    kept.insert("status".to_owned(), row.status.as_str().into());
    let by = row.superseded_by.map(|id| id.to_string());
    kept.insert("superseded_by".to_owned(), by.into());
    for amendment in amendments(&row)? {
        amend(&mut kept, &amendment)?;
    }
    document(&kept)
}

fn amend(kept: &mut Map<String, Value>, amendment: &Amendment) -> Result<(), Problem> {
    let remark =
        serde_json::to_value(&amendment.remark).map_err(|error| Problem::internal(&error))?;
    let Some(code) = &amendment.deviation else {
        kept.insert("voided".to_owned(), remark);
        return Ok(());
    };
    let deviations = kept.get_mut("deviations").and_then(Value::as_array_mut);
    for deviation in deviations.into_iter().flatten() {
        if deviation.get("code").and_then(Value::as_str) == Some(code)
            && let Some(members) = deviation.as_object_mut()
        {
            members.insert("acknowledged".to_owned(), remark.clone());
        }
    }
    Ok(())
}
