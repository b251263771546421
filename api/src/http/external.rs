//! The filter of lists by the name that a thing has in another system: two parameters that go together.

use crate::{cursor::List, query::Query, wire::external::External};

/// Takes `external_system` and `external_id` out of a query string.
pub(super) fn take(query: &mut Query) -> Option<External> {
    let system = query.text("external_system", 100);
    let id = query.text("external_id", 200);
    match (system, id) {
        (Some(system), Some(id)) => Some(External { system, id }),
        (None, None) => None,
        (Some(_), None) => alone(query, "external_id"),
        (None, Some(_)) => alone(query, "external_system"),
    }
}

fn alone(query: &mut Query, missing: &str) -> Option<External> {
    query.outside(
        missing,
        "Send `external_system` and `external_id` together.",
    );
    None
}

/// Makes a list another one for each external name.
pub(super) fn filter(list: List, external: Option<&External>) -> List {
    let system = external.map(|external| external.system.as_str());
    let id = external.map(|external| external.id.as_str());
    list.filter("external_system", system)
        .filter("external_id", id)
}

#[cfg(test)]
mod tests {
    use super::take;
    use crate::{problem::Code, query::Query};

    #[test]
    fn an_external_name_is_asked_for_whole_or_not_at_all() {
        let mut query = Query::parse("external_system=reg&external_id=2.104%2FA");
        assert_eq!(take(&mut query).unwrap().id, "2.104/A");
        assert!(query.finish().is_ok());
        let mut query = Query::parse("external_id=7");
        assert!(take(&mut query).is_none());
        assert_eq!(
            query.finish().unwrap_err().code(),
            Code::ParameterOutOfRange
        );
    }
}
