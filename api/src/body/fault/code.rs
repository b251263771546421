//! What the codes of faults mean: the list that is published, and the only codes that a fault may have.

use utoipa::{
    PartialSchema, ToSchema,
    openapi::{ObjectBuilder, RefOr, Schema, Type},
};

/// Each code with what it means, in alphabetical order.
pub(crate) const MEANINGS: &[(&str, &str)] = &[
    (
        "address_not_public",
        "The address leads into a private or reserved network.",
    ),
    (
        "after_observation",
        "Something is said to have happened after it was seen.",
    ),
    ("already_exists", "Another record has this name or number."),
    (
        "alternatives",
        "None, or more than one, of the forms that the schema allows.",
    ),
    ("amount_out_of_range", "More money than is kept."),
    (
        "area_differs",
        "The area and the outline differ by more than they may.",
    ),
    ("area_missing", "Neither an area nor an outline was given."),
    ("area_too_large", "The area is larger than is kept."),
    ("area_too_small", "The area rounds to nothing."),
    ("circle", "Records replace each other in a circle."),
    (
        "completion_of_other_surface",
        "The completion that is cited was on another surface.",
    ),
    (
        "conflicting",
        "Two members that exclude each other were both sent.",
    ),
    (
        "contradiction",
        "Two members say the opposite of each other.",
    ),
    (
        "contradicts_kind",
        "Not of the kind of film that was named.",
    ),
    (
        "coordinate_out_of_range",
        "A coordinate farther away than is drawn.",
    ),
    (
        "credentials_in_url",
        "A URL with a user name or a password in it.",
    ),
    ("currency_mismatch", "Not the currency of the site."),
    (
        "degrees",
        "Coordinates in degrees, where metres are asked for.",
    ),
    ("door_apart", "A door that lies on no edge of the outline."),
    (
        "doors_without_outline",
        "Doors were given, and no outline that they lie in.",
    ),
    ("duplicate", "Named before in the same request."),
    ("duplicate_member", "A member that the body holds twice."),
    ("edges_meet", "Edges of the outline cross or touch."),
    ("enum", "None of the words that are allowed."),
    ("exceeds_surface", "More area than the surface has."),
    (
        "finish_missing",
        "Neither a material nor a finish was given.",
    ),
    (
        "forbidden_character",
        "A character that no text here may hold.",
    ),
    ("format", "Not in the format that the schema names."),
    ("hole_in_hole", "A hole that lies in another."),
    ("hole_outside", "A hole that lies outside its outline."),
    (
        "hostile",
        "The file holds what no honest file of its kind holds.",
    ),
    ("in_future", "A moment that has not come."),
    ("in_past", "A day that has gone by."),
    (
        "invalid_query",
        "A parameter of the stored query cannot be used.",
    ),
    ("malformed", "Cannot be read."),
    ("malformed_amount", "Not a decimal number."),
    ("malformed_url", "Not a URL."),
    (
        "material_and_finish",
        "Both a material and a finish were given.",
    ),
    ("max_items", "Too many elements."),
    ("max_length", "Too many characters."),
    ("max_members", "Too many members."),
    ("maximum", "Too large a number."),
    ("min_items", "Too few elements."),
    ("min_length", "Too few characters."),
    ("min_members", "Too few members."),
    ("minimum", "Too small a number."),
    (
        "missing_skill",
        "No crew has the skill that the work takes.",
    ),
    (
        "mixed",
        "More than one floor covering: register a surface for each.",
    ),
    ("more_than_a_pack", "More is left than the pack held."),
    ("multiple_of", "More decimal places than are kept."),
    ("no_surfaces", "No surface is there to be estimated."),
    (
        "not_after_start",
        "An end that does not come after its beginning.",
    ),
    ("not_allowed", "The plan holds no work that is allowed."),
    (
        "not_of_class",
        "A figure that products of this class do not have.",
    ),
    (
        "not_opened",
        "Less than whole packs are left, and none was opened.",
    ),
    (
        "not_read",
        "A part of a text that is not read here, and would change what it says.",
    ),
    (
        "not_the_format",
        "The file is not of the format that its media type names.",
    ),
    ("not_whole_packs", "Unopened packs come whole."),
    ("nothing_said", "Nothing is said of the film."),
    ("number_out_of_range", "A number that cannot be kept."),
    ("one_dimension", "A chart is grouped by one dimension."),
    (
        "other_contractor",
        "The source reports for one contractor, and this names another.",
    ),
    ("other_site", "At another site."),
    (
        "out_of_order",
        "Something is said to have begun before what it waits for.",
    ),
    ("out_of_range", "Outside the range that is named."),
    ("out_of_scope", "Not a hard floor."),
    (
        "outline_size",
        "More points, or more holes, than an outline may have.",
    ),
    ("own_address", "An address of this service."),
    ("pattern", "Not in the form that the schema names."),
    ("plan_gone", "The plan is superseded or withdrawn."),
    ("plan_not_open", "The plan is superseded or withdrawn."),
    (
        "plan_without_work",
        "The plan is refused or lacks information.",
    ),
    ("port_not_allowed", "A port to which no events are sent."),
    (
        "process_of_plan_differs",
        "Another process than the plan's.",
    ),
    ("read_only", "Cannot be changed."),
    ("reference_not_found", "Names a record that is not there."),
    ("required", "Must be given here."),
    ("reserved", "A name that the knowledge base uses."),
    ("schema", "Breaks another rule of the schema."),
    ("scheme_not_allowed", "A URL of another kind than https."),
    (
        "site_retired",
        "The site's floors are looked after no more.",
    ),
    (
        "stale_plan",
        "The surface was changed since the plan was made.",
    ),
    ("stale_version", "Not the version that is there."),
    ("surface_replaced", "Another floor lies there since."),
    ("surface_retired", "The floor is there no more."),
    ("too_early", "Before the earliest moment that is taken."),
    ("too_few_points", "Fewer points than an outline has."),
    (
        "too_large",
        "Something in the file is larger, deeper or more than is read.",
    ),
    ("too_late", "After the last moment that is taken."),
    ("too_long", "A longer time than is taken."),
    ("too_many", "More than one request may name."),
    ("too_many_bars", "More bars than a chart can show."),
    (
        "too_many_digits",
        "More decimal places than the currency has.",
    ),
    (
        "too_many_groups",
        "The report would have more rows than it may.",
    ),
    (
        "too_many_rows",
        "More rows than the file that was asked for may have.",
    ),
    ("too_many_tasks", "More tasks than are scheduled at once."),
    ("type", "Another JSON type than is asked for."),
    ("unknown_activity", "No activity of the knowledge base."),
    ("unknown_class", "No product class of the knowledge base."),
    ("unknown_crew", "No crew of the request."),
    ("unknown_currency", "No ISO 4217 code."),
    ("unknown_finish", "Not in the dictionary of finishes."),
    ("unknown_machine", "No machine of the knowledge base."),
    ("unknown_material", "No material of the knowledge base."),
    ("unknown_member", "A member that nobody knows."),
    ("unknown_pad", "No pad of the knowledge base."),
    ("unknown_parameter", "A parameter that nobody knows."),
    ("unknown_process", "No process of the knowledge base."),
    (
        "unknown_product",
        "Neither a product of the knowledge base nor one of the tenant.",
    ),
    ("unknown_site", "No site of the tenant."),
    ("unknown_time_zone", "No zone of the IANA database."),
    (
        "unknown_tool",
        "No pad and no machine of the knowledge base.",
    ),
    (
        "unsupported",
        "A file of its format, but of a kind that is not read.",
    ),
    (
        "unusable_climate",
        "Air or a floor outside the range of what is reckoned with.",
    ),
    (
        "unusable_figure",
        "A figure with which nothing can be reckoned.",
    ),
];

/// Whether a fault may have this code.
pub(super) fn is_known(code: &str) -> bool {
    MEANINGS.binary_search_by_key(&code, |row| row.0).is_ok()
}

/// Every code of the table as the values of one enumeration.
pub(crate) struct FaultCode;

impl PartialSchema for FaultCode {
    fn schema() -> RefOr<Schema> {
        let rows = MEANINGS.iter();
        let rows = rows.map(|(code, meaning)| format!("- `{code}`: {meaning}\n"));
        let list: String = rows.collect();
        ObjectBuilder::new()
            .schema_type(Type::String)
            .enum_values(Some(MEANINGS.iter().map(|row| row.0)))
            .description(Some(format!(
                "What kind of fault it is; stable, for programs to switch on.\n\n{list}"
            )))
            .into()
    }
}

impl ToSchema for FaultCode {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_listed_once_and_in_their_order() {
        assert!(MEANINGS.is_sorted_by(|one, next| one.0 < next.0));
    }

    #[test]
    fn a_code_that_is_not_listed_is_not_known() {
        assert!(is_known("unknown_site") && !is_known("unknown_planet"));
    }
}
