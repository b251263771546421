//! Where the answer to a question goes.

use serde::Serialize;
use utoipa::ToSchema;

/// The member of a request that answers a question.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct AnswerAtView {
    /// The `operationId` of the request: `changeSurface` with a merge patch, or `proposePlan` with the same wish again.
    #[schema(max_length = 60, pattern = "^(changeSurface|proposePlan)$")]
    operation: &'static str,
    /// The JSON pointer of the member in its body.
    #[schema(max_length = 100, pattern = "^(/[a-z0-9_]+)+$")]
    pointer: String,
}

impl AnswerAtView {
    /// Where a fact is told; `None` for one that nobody is asked for.
    pub(crate) fn of(fact: &str) -> Option<Self> {
        let (about, member) = fact.split_once('.')?;
        let (operation, pointer) = match (about, member) {
            ("material", "key") => ("changeSurface", "/material".to_owned()),
            // The floor's age is told by its birthday.
            ("survey", "floor_age_h") => ("changeSurface", "/laid_on".to_owned()),
            ("survey", _) => ("changeSurface", format!("/{member}")),
            ("film", _) => ("changeSurface", format!("/film/{member}")),
            ("arranged", _) => ("proposePlan", format!("/wish/arrangements/{member}")),
            _ => return None,
        };
        Some(Self { operation, pointer })
    }
}

#[cfg(test)]
mod tests {
    use domain::knowledge::KnowledgeBase;
    use utoipa::OpenApi as _;

    use super::AnswerAtView;
    use crate::openapi::ApiDoc;

    /// The member that a pointer leads to, through references.
    fn member(document: &serde_json::Value, request: &str, pointer: &str) -> bool {
        let schemas = &document["components"]["schemas"];
        let mut schema = schemas[request].clone();
        for name in pointer.split('/').skip(1) {
            schema = schema["properties"][name].clone();
            let target = schema["oneOf"][0]["$ref"].as_str();
            let target = target.or_else(|| schema["$ref"].as_str());
            if let Some(target) = target {
                let name = target.rsplit('/').next().unwrap_or_default().to_owned();
                schema = schemas[name].clone();
            }
        }
        !schema.is_null()
    }

    #[test]
    fn every_question_is_answered_by_a_member_that_exists() {
        let base = KnowledgeBase::builtin().unwrap();
        let document = serde_json::to_value(ApiDoc::openapi()).unwrap();
        assert!(!member(&document, "SurfaceRequest", "/no_such"));
        for question in &base.questions {
            let at = AnswerAtView::of(&question.fact).unwrap();
            let request = match at.operation {
                "changeSurface" => "SurfaceRequest",
                _ => "PlanRequest",
            };
            assert!(member(&document, request, &at.pointer), "{at:?}");
        }
    }
}
