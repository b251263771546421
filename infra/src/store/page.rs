//! Lists come in pages that go on after a key, so a row that is added or removed shifts nothing.

/// A part of a list, in the order of its key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page<T, K> {
    /// The rows.
    pub items: Vec<T>,
    /// Where the next page goes on; none on the last page.
    pub next: Option<K>,
}

impl<T, K> Page<T, K> {
    /// The page with each row made into something else.
    ///
    /// # Errors
    /// That of the first row that cannot be.
    pub fn try_map<U, E>(self, each: impl FnMut(T) -> Result<U, E>) -> Result<Page<U, K>, E> {
        let items = self.items.into_iter().map(each).collect::<Result<_, _>>()?;
        Ok(Page {
            items,
            next: self.next,
        })
    }

    /// Makes a page of at most `limit` rows from up to `limit + 1` that were read.
    pub(super) fn cut(mut items: Vec<T>, limit: u64, key: impl FnOnce(&T) -> K) -> Self {
        let limit = usize::try_from(limit).unwrap_or(usize::MAX);
        let more = items.len() > limit;
        items.truncate(limit);
        let next = if more { items.last().map(key) } else { None };
        Self { items, next }
    }
}

#[cfg(test)]
mod tests {
    use super::Page;

    #[test]
    fn a_page_goes_on_only_if_a_row_is_left() {
        assert_eq!(
            Page::cut(vec![1, 2, 3], 2, |n| *n),
            Page {
                items: vec![1, 2],
                next: Some(2)
            }
        );
        assert_eq!(
            Page::cut(vec![1, 2], 2, |n| *n),
            Page {
                items: vec![1, 2],
                next: None
            }
        );
        assert_eq!(
            Page::cut(Vec::<i32>::new(), 2, |n| *n),
            Page {
                items: vec![],
                next: None
            }
        );
    }
}
