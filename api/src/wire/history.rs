//! What happened to a surface on the wire, and what of it was another before.

use std::collections::BTreeMap;

use infra::row::HistoryRow;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use utoipa::ToSchema;

use super::{document, stored, time};
use crate::problem::Problem;

/// Members that change with every version and say nothing of the floor.
const OF_THE_RECORD: [&str; 3] = ["version", "updated_at", "findings"];

/// In what two versions of a record differ, as it is kept: each member that is not the same, by its name, and only where it is there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Changes {
    before: Map<String, Value>,
    after: Map<String, Value>,
}

impl Changes {
    /// The changes from one document to another.
    ///
    /// # Errors
    /// `internal` for a document that is not what was written.
    pub(crate) fn between(before: &str, after: &str) -> Result<Self, Problem> {
        let (mut before, mut after): (Map<String, Value>, Map<String, Value>) =
            (stored(before)?, stored(after)?);
        before.retain(|name, value| {
            let same = after.get(name) == Some(value);
            if same {
                after.remove(name);
            }
            !same
        });
        Ok(Self { before, after })
    }

    /// The changes that are kept with what happened; `None` where nothing was changed.
    ///
    /// # Errors
    /// `internal` for what is not what was written.
    pub(crate) fn of(row: &HistoryRow) -> Result<Option<Self>, Problem> {
        row.changes.as_deref().map(stored).transpose()
    }

    /// The changes as they are kept.
    ///
    /// # Errors
    /// `internal` for a value that JSON cannot hold.
    pub(crate) fn document(&self) -> Result<String, Problem> {
        document(self)
    }

    /// Makes a document again what it was before these changes.
    pub(crate) fn take_back(self, document: &mut Map<String, Value>) {
        document.retain(|name, _| !self.after.contains_key(name));
        document.extend(self.before);
    }

    /// What is told of them, by name.
    fn views(self) -> Vec<ChangeView> {
        let mut pairs: BTreeMap<String, (Option<Value>, Option<Value>)> = BTreeMap::new();
        for (name, value) in self.before {
            pairs.entry(name).or_default().0 = Some(value);
        }
        for (name, value) in self.after {
            pairs.entry(name).or_default().1 = Some(value);
        }
        let told = |name: &String| !OF_THE_RECORD.contains(&name.as_str());
        let pairs = pairs.into_iter().filter(|(name, _)| told(name));
        pairs
            .map(|(member, (before, after))| ChangeView {
                member,
                before,
                after,
            })
            .collect()
    }
}

/// A member of a surface that was changed.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ChangeView {
    /// Its name.
    #[schema(max_length = 60, pattern = "^[a-z_0-9]+$")]
    member: String,
    /// What it was; left out where it was not there.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<serde_json::Value>)]
    before: Option<Value>,
    /// What it is from then on; left out where it is there no more.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<serde_json::Value>)]
    after: Option<Value>,
}

/// Something that happened to a surface.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct HistoryEntryView {
    /// The id of the event that told of it.
    #[schema(max_length = 40, pattern = "^evt_[0-9a-f-]{36}$")]
    id: String,
    /// When it happened: work at its end, a value when it was measured.
    #[schema(format = DateTime, max_length = 24)]
    at: String,
    /// What happened, such as `wearcourse.completion.recorded.v1`.
    #[schema(max_length = 100, pattern = "^[a-z0-9_.]+$")]
    event: String,
    /// The id of what it happened to: the surface, or an observation, a reading, a plan or a completion of it.
    #[schema(max_length = 40, pattern = "^[a-z]{3}_[0-9a-f-]{36}$")]
    subject: String,
    /// The version of the subject after it.
    #[schema(minimum = 1)]
    version: i64,
    /// What happened, in one sentence.
    #[schema(max_length = 1000)]
    statement: String,
    /// What of the surface was changed; there only if that is what happened. `GET /v1/surfaces/{surface_id}?version=` tells it whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, max_items = 100)]
    changes: Option<Vec<ChangeView>>,
    /// When it was recorded.
    #[schema(format = DateTime, max_length = 24)]
    created_at: String,
}

impl HistoryEntryView {
    /// What a row says.
    ///
    /// # Errors
    /// `internal` for changes that are not what was written.
    pub(crate) fn new(row: &HistoryRow) -> Result<Self, Problem> {
        Ok(Self {
            id: row.id.to_string(),
            at: time::write(row.at),
            event: row.kind.clone(),
            subject: row.subject.clone(),
            version: row.version,
            statement: row.statement.clone(),
            changes: Changes::of(row)?.map(Changes::views),
            created_at: time::write(row.created_at),
        })
    }
}

/// A page of a surface's history.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HistoryPage {
    /// What happened, oldest first.
    #[schema(max_items = 200)]
    items: Vec<HistoryEntryView>,
    /// Where the next page begins; null on the last.
    #[schema(max_length = 512)]
    next_cursor: Option<String>,
}

#[cfg(test)]
mod tests {
    use serde_json::{Map, Value, json};

    use super::Changes;

    #[test]
    fn what_was_changed_is_taken_back_to_the_letter() {
        let before =
            json!({"id": "a", "version": 1, "film": {"coats": 4}, "note": "x", "same": [1]});
        let after =
            json!({"id": "a", "version": 2, "film": {"kind": "bare"}, "added": null, "same": [1]});
        let changes = Changes::between(&before.to_string(), &after.to_string()).unwrap();
        let mut document: Map<String, Value> = after.as_object().unwrap().clone();
        let told: Vec<String> = changes
            .clone()
            .views()
            .into_iter()
            .map(|one| one.member)
            .collect();
        assert_eq!(told, ["added", "film", "note"]);
        changes.take_back(&mut document);
        assert_eq!(Value::Object(document), before);
    }
}
