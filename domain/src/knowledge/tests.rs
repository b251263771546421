//! The built-in files, finish words, and what reading refuses.

use super::{BUILTIN, FinishMeaning, KnowledgeBase, Sources};

#[test]
fn the_built_in_files_are_usable() {
    if let Err(error) = KnowledgeBase::builtin() {
        panic!("{error}");
    }
}

#[test]
fn a_finish_word_is_matched_exactly_and_never_guessed() {
    let base = KnowledgeBase::builtin().expect("usable");
    assert!(
        matches!(base.finish("  sheet   vinyl "), FinishMeaning::Hard(m) if m.key == "vinyl_sheet")
    );
    assert_eq!(base.finish("CARPET  "), FinishMeaning::Soft);
    assert_eq!(
        base.finish("VINYL COMPOSITION TILE/CARPET"),
        FinishMeaning::Mixed
    );
    assert_eq!(base.finish("VINYL"), FinishMeaning::NotFound);
}

#[test]
fn a_name_that_does_not_exist_is_refused() {
    let rates = BUILTIN
        .rates
        .replace("machine = \"rotary_43\"", "machine = \"hover_board\"");
    let error = KnowledgeBase::read(&Sources {
        rates: &rates,
        ..BUILTIN
    })
    .expect_err("refused");
    assert!(
        error.faults.iter().any(|fault| fault.contains("machine")),
        "{error}"
    );
}
