//! Whether what a caller says of a surface can be stored: its material, its area, its site.
//!
//! A finish is found in the dictionary or it is not: nothing is guessed. What is only odd about a surface becomes a
//! finding of a stored one.

use std::fmt::Display;

use domain::{
    id::SiteId,
    knowledge::{FinishMeaning, KnowledgeBase, Material},
    quantity::Area,
    survey::Survey,
};

use crate::{
    body::Fault,
    problem::{Code, Problem},
    wire::surface::{FindingView, Outcome, SurfaceRequest},
};

/// The smallest area that is a floor: 0.01 m².
const LEAST_AREA: Area = Area::from_mm2(10_000);

/// A surface that can be stored.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Draft {
    /// What was said, with its quantities as they are kept.
    pub(super) request: SurfaceRequest,
    /// The site.
    pub(super) site_id: SiteId,
    /// What is known of it for planning.
    pub(super) survey: Survey,
    /// What was noticed.
    pub(super) findings: Vec<FindingView>,
}

/// Why a surface is not stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Refusal {
    /// What it is instead of stored.
    pub(super) outcome: Outcome,
    /// Each reason, with its place.
    pub(super) faults: Vec<Fault>,
}

impl Refusal {
    /// Something for the caller to mend.
    pub(super) fn attention(faults: Vec<Fault>) -> Self {
        Self {
            outcome: Outcome::NeedsAttention,
            faults,
        }
    }
}

impl From<Refusal> for Problem {
    fn from(refusal: Refusal) -> Self {
        Self::with_faults(Code::InvalidBody, refusal.faults)
    }
}

/// Makes a surface ready to be stored; `root` is the place of the request in its body.
///
/// # Errors
/// [`Refusal`]: a soft or mixed floor, or everything that needs attention.
pub(super) fn draft(
    base: &KnowledgeBase,
    request: &SurfaceRequest,
    root: &str,
    is_site: impl Fn(SiteId) -> bool,
) -> Result<Draft, Refusal> {
    let mut faults = Vec::new();
    let material = match material(base, request, root) {
        Ok(material) => Some(material),
        Err(Refusal {
            outcome: Outcome::NeedsAttention,
            faults: found,
        }) => {
            faults.extend(found);
            None
        }
        Err(refusal) => return Err(refusal),
    };
    if Area::from_m2(request.area_m2).is_none_or(|area| area < LEAST_AREA) {
        let detail = "The area is below 0.01 m²: give the area of the floor.";
        faults.push(at(root, "area_m2", "area_too_small", detail));
    }
    let site_id = request.site_id.parse().ok().filter(|id| is_site(*id));
    if site_id.is_none() {
        let detail = "There is no such site: register it before its surfaces.";
        faults.push(at(root, "site_id", "unknown_site", detail));
    }
    match (material, site_id) {
        (Some(material), Some(site_id)) if faults.is_empty() => {
            let request = request.clone().kept();
            let survey = request.survey(&material.key);
            Ok(Draft {
                findings: findings(base, &survey),
                request,
                site_id,
                survey,
            })
        }
        _ => Err(Refusal::attention(faults)),
    }
}

/// A fault at a member.
pub(super) fn at(root: &str, member: &str, code: &'static str, detail: impl Display) -> Fault {
    Fault::at(format!("{root}/{member}"), code, detail.to_string())
}

/// The material, by its key or by the finish.
fn material<'b>(
    base: &'b KnowledgeBase,
    request: &SurfaceRequest,
    root: &str,
) -> Result<&'b Material, Refusal> {
    let attention =
        |member, code, detail: String| Refusal::attention(vec![at(root, member, code, detail)]);
    let finish = request.finish.as_deref();
    match (
        request.material.as_deref(),
        finish.filter(|text| !text.trim().is_empty()),
    ) {
        (Some(_), Some(_)) => {
            let detail = "Give the material or the finish, not both; in a patch take the other away with null.";
            Err(attention(
                "finish",
                "material_and_finish",
                detail.to_owned(),
            ))
        }
        (None, None) => {
            let detail = "Nothing says what the floor is made of: give `material` or `finish`.";
            Err(attention("finish", "finish_missing", detail.to_owned()))
        }
        (Some(key), None) => base.material(key).ok_or_else(|| {
            let detail = format!("No material is named `{key}`; GET /v1/materials lists them.");
            attention("material", "unknown_material", detail)
        }),
        (None, Some(text)) => by_finish(base, text, root),
    }
}

fn by_finish<'b>(base: &'b KnowledgeBase, text: &str, root: &str) -> Result<&'b Material, Refusal> {
    let refuse = |outcome, code, detail: String| Refusal {
        outcome,
        faults: vec![at(root, "finish", code, detail)],
    };
    match base.finish(text) {
        FinishMeaning::Hard(material) => Ok(material),
        FinishMeaning::Soft => {
            let detail = format!("`{text}` is a soft floor: only hard floors are cared for here.");
            Err(refuse(Outcome::OutOfScope, "out_of_scope", detail))
        }
        FinishMeaning::Mixed => {
            let detail = format!(
                "`{text}` names several coverings: register one surface for each, with its own area."
            );
            Err(refuse(Outcome::ToSplit, "mixed", detail))
        }
        FinishMeaning::NotFound => {
            let detail = format!(
                "`{text}` is not in the dictionary of finishes: give `material`, one of those that GET \
                 /v1/materials lists."
            );
            Err(refuse(Outcome::NeedsAttention, "unknown_finish", detail))
        }
    }
}

/// What is odd about the perimeter, and what is worked with in its place.
fn findings(base: &KnowledgeBase, survey: &Survey) -> Vec<FindingView> {
    let edge = survey.edge();
    if !edge.approximated {
        return Vec::new();
    }
    let id = if survey.perimeter.is_some() {
        "perimeter-impossible"
    } else {
        "perimeter-missing"
    };
    let statement = base.rule(id).map(|rule| rule.statement.clone());
    vec![FindingView {
        rule: id.to_owned(),
        statement: statement.unwrap_or_default(),
        perimeter_used_m: Some(edge.length.m()),
    }]
}

#[cfg(test)]
mod tests {
    use domain::{id::SiteId, knowledge::KnowledgeBase};
    use uuid::Uuid;

    use super::{Draft, Refusal, draft};
    use crate::wire::{
        self,
        surface::{Outcome, SurfaceRequest},
    };

    fn request(members: &str) -> SurfaceRequest {
        let site = SiteId::from_uuid(Uuid::from_u128(1));
        let json = format!(r#"{{"site_id":"{site}","name":"a","storey":"1",{members}}}"#);
        wire::stored(&json).unwrap()
    }

    fn classify(members: &str) -> Result<Draft, Refusal> {
        let base = KnowledgeBase::builtin().unwrap();
        let site = SiteId::from_uuid(Uuid::from_u128(1));
        draft(base, &request(members), "#/items/3", |id| id == site)
    }

    fn refused(members: &str) -> (Outcome, Vec<(String, &'static str)>) {
        let refusal = classify(members).unwrap_err();
        let faults = refusal.faults.into_iter();
        let told = faults.map(|fault| (fault.pointer.unwrap(), fault.code));
        (refusal.outcome, told.collect())
    }

    #[test]
    fn a_finish_is_hard_soft_mixed_or_unknown_and_never_guessed() {
        let draft = classify(r#""finish":" sheet  vinyl ","area_m2":32,"perimeter_m":24"#).unwrap();
        assert_eq!(draft.survey.material, "vinyl_sheet");
        assert_eq!(draft.request.finish.as_deref(), Some(" sheet  vinyl "));
        assert!(draft.findings.is_empty());
        let cases = [
            ("CARPET", Outcome::OutOfScope, "out_of_scope"),
            ("VINYL COMPOSITION TILE/CARPET", Outcome::ToSplit, "mixed"),
            ("VINYL", Outcome::NeedsAttention, "unknown_finish"),
        ];
        for (finish, outcome, code) in cases {
            // What is not for us is told as that, whatever its area.
            let area = u8::from(outcome == Outcome::NeedsAttention);
            let told = refused(&format!(r#""finish":"{finish}","area_m2":{area}"#));
            assert_eq!(told, (outcome, vec![("#/items/3/finish".to_owned(), code)]));
        }
    }

    #[test]
    fn everything_that_needs_attention_is_told_at_once() {
        let (outcome, told) = refused(r#""area_m2":0.009"#);
        assert_eq!(outcome, Outcome::NeedsAttention);
        let expected = [
            ("#/items/3/finish", "finish_missing"),
            ("#/items/3/area_m2", "area_too_small"),
        ];
        assert_eq!(told, expected.map(|(at, code)| (at.to_owned(), code)));
        let code = |members: &str| refused(members).1[0].1;
        assert_eq!(code(r#""finish":"  ","area_m2":1"#), "finish_missing");
        assert_eq!(
            code(r#""material":"no_such","area_m2":1"#),
            "unknown_material"
        );
        let both = r#""material":"vinyl_sheet","finish":"VCT","area_m2":1"#;
        assert_eq!(code(both), "material_and_finish");
        let base = KnowledgeBase::builtin().unwrap();
        let known = request(r#""material":"vinyl_sheet","area_m2":1"#);
        let refusal = draft(base, &known, "#", |_| false).unwrap_err();
        assert_eq!(refusal.faults[0].pointer.as_deref(), Some("#/site_id"));
    }

    #[test]
    fn a_perimeter_that_is_missing_or_impossible_is_a_finding() {
        let of = |perimeter: &str| {
            classify(&format!(
                r#""material":"vinyl_sheet","area_m2":32{perimeter}"#
            ))
            .unwrap()
        };
        for (perimeter, rule) in [
            ("", "perimeter-missing"),
            (r#","perimeter_m":0"#, "perimeter-missing"),
            (r#","perimeter_m":0.0004"#, "perimeter-missing"),
            (r#","perimeter_m":0.093"#, "perimeter-impossible"),
        ] {
            let draft = of(perimeter);
            assert_eq!(draft.findings[0].rule, rule, "{perimeter}");
            assert!(!draft.findings[0].statement.is_empty());
            // 8 m by 4 m.
            assert_eq!(draft.findings[0].perimeter_used_m, Some(24.0));
        }
        assert_eq!(of(r#","perimeter_m":0"#).request.perimeter_m, None);
    }

    #[test]
    fn s_115_quantities_are_kept_to_the_ledger() {
        let members = r#""material":"vinyl_sheet","area_m2":19.0720000000000003,"perimeter_m":19.072000000000003"#;
        let kept = classify(members).unwrap();
        assert_eq!(kept.request.area_m2.to_string(), "19.072");
        assert_eq!(kept.request.perimeter_m.unwrap().to_string(), "19.072");
    }
}
