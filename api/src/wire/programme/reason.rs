//! Why no programme was reckoned for a floor, and what to do instead.

use domain::{
    knowledge::{Grade, Severity},
    programme::NotReckoned,
};

use super::view::ProgrammeFindingView;

/// The outcome, and a finding that says what to do instead.
pub(super) fn told(why: NotReckoned) -> (&'static str, ProgrammeFindingView) {
    let (code, severity, statement, clears) = match why {
        NotReckoned::FilmUnknown => (
            "film_unknown",
            Severity::Ask,
            "Nobody knows what lies on this floor, so nothing can be said of how it wears.",
            "Record an observation of the film.",
        ),
        NotReckoned::Bare => (
            "bare",
            Severity::Note,
            "Nothing lies on this floor that wears, so there is no film to keep or to renew. What recurs on it does so at the intervals of the \
             knowledge base; what longer ones would do to it is not known here, so none are compared.",
            "`GET /v1/due` tells what recurs on it and when, `GET /v1/forecast` what that costs by month.",
        ),
        NotReckoned::NotFollowed => (
            "not_followed",
            Severity::Note,
            "How thick this film is, how it wears and by what it is renewed is not known here, so no programme is reckoned.",
            "`GET /v1/due` tells what recurs on it. Ask its maker; once a seal or a polish lies on it, record that and ask again.",
        ),
        NotReckoned::FilmLeftUnknown => (
            "film_left_unknown",
            Severity::Ask,
            "Nobody counted the coats of this film, and nobody told its condition lately, or it is one of which coats do not follow: how much of it \
             is left is not known.",
            "Record an observation of the film with its condition, and with `seal_coats` where they were counted. For a film that peels, powders or \
             sticks ask for a plan with the goal `restore`.",
        ),
        NotReckoned::NotRenewable => (
            "not_renewable",
            Severity::Refuse,
            "No process may renew the film of this floor, or take it off and lay it anew: the rules refuse each that suits it, or none does. \
             No programme is offered, for none could make good a lane that is worn through.",
            "Ask for a plan with the goal `restore`: its findings say what is refused and why.",
        ),
        NotReckoned::Figure => (
            "no_figure",
            Severity::Ask,
            "Material, climate or a figure of this floor lead nowhere, so nothing could be reckoned.",
            "Ask for a plan of this floor: its problem says what is wrong.",
        ),
    };
    let finding = ProgrammeFindingView {
        code,
        severity: severity.word(),
        statement: statement.to_owned(),
        clears,
        source: "the rules and figures of the knowledge base".to_owned(),
        grade: Grade::CommonPractice.word(),
    };
    (code, finding)
}
