//! Surfaces: registering, changing and reading them, and what planning needs of them.

use domain::survey::Survey;
use infra::row::SurfaceRow;

use crate::{problem::Problem, wire};

/// What is known of a surface, as the planner takes it.
///
/// # Errors
/// `internal` for a document that is not what was written.
pub(crate) fn survey_of(row: &SurfaceRow) -> Result<Survey, Problem> {
    let stored = wire::surface::stored(&row.document)?;
    let mut survey = stored.survey(&row.material);
    // The ledger's own figures.
    survey.area = row.area;
    survey.perimeter = row.perimeter;
    Ok(survey)
}
