//! Reads a condition: tokens, then a descent over `or`, `and`, `not` and comparisons, types checked on the way.

use super::{Comparison, Node, Operand};
use crate::knowledge::fact::{Fact, FactType};

/// The condition that a text writes.
pub(super) fn parse(text: &str) -> Result<Node, String> {
    let tokens = tokens(text)?;
    let mut parser = Parser {
        tokens: &tokens,
        next: 0,
    };
    let node = parser.any()?;
    match parser.peek() {
        None => Ok(node),
        Some(token) => Err(format!("unexpected {token:?}")),
    }
}

#[derive(Debug, Clone, PartialEq)]
enum Token {
    Name(String),
    Number(f64),
    Word(String),
    Sign(&'static str),
}

const SIGNS: [&str; 11] = ["<=", ">=", "==", "!=", "<", ">", "(", ")", "[", "]", ","];

fn tokens(text: &str) -> Result<Vec<Token>, String> {
    let mut found = Vec::new();
    let mut rest = text.trim_start();
    while let Some(first) = rest.chars().next() {
        if let Some(sign) = SIGNS.into_iter().find(|sign| rest.starts_with(sign)) {
            found.push(Token::Sign(sign));
            rest = rest.strip_prefix(sign).unwrap_or_default();
        } else if let Some(quoted) = rest.strip_prefix('\'') {
            let (word, after) = quoted
                .split_once('\'')
                .ok_or("a word without closing quote")?;
            found.push(Token::Word(word.to_owned()));
            rest = after;
        } else if first.is_ascii_alphanumeric() || first == '-' {
            let end = rest
                .find(|c: char| !(c.is_ascii_alphanumeric() || "_.-".contains(c)))
                .unwrap_or(rest.len());
            let (word, after) = rest.split_at(end);
            found.push(if first.is_ascii_alphabetic() {
                Token::Name(word.to_owned())
            } else {
                let number = word
                    .parse()
                    .map_err(|_syntax| format!("`{word}` is no number"))?;
                Token::Number(number)
            });
            rest = after;
        } else {
            return Err(format!("unexpected `{first}`"));
        }
        rest = rest.trim_start();
    }
    Ok(found)
}

struct Parser<'t> {
    tokens: &'t [Token],
    next: usize,
}

impl Parser<'_> {
    fn peek(&self) -> Option<&Token> {
        self.tokens.get(self.next)
    }

    fn take(&mut self) -> Option<Token> {
        let token = self.peek().cloned();
        self.next = self.next.saturating_add(1);
        token
    }

    fn eat(&mut self, wanted: &Token) -> bool {
        let found = self.peek() == Some(wanted);
        if found {
            self.next = self.next.saturating_add(1);
        }
        found
    }

    fn expect(&mut self, sign: &'static str) -> Result<(), String> {
        if self.eat(&Token::Sign(sign)) {
            Ok(())
        } else {
            Err(format!("`{sign}` is missing"))
        }
    }

    fn any(&mut self) -> Result<Node, String> {
        let mut parts = vec![self.all()?];
        while self.eat(&Token::Name("or".to_owned())) {
            parts.push(self.all()?);
        }
        Ok(one_or(parts, Node::Any))
    }

    fn all(&mut self) -> Result<Node, String> {
        let mut parts = vec![self.negated()?];
        while self.eat(&Token::Name("and".to_owned())) {
            parts.push(self.negated()?);
        }
        Ok(one_or(parts, Node::All))
    }

    fn negated(&mut self) -> Result<Node, String> {
        if self.eat(&Token::Name("not".to_owned())) {
            return Ok(Node::Not(Box::new(self.negated()?)));
        }
        if self.eat(&Token::Sign("(")) {
            let inside = self.any()?;
            self.expect(")")?;
            return Ok(inside);
        }
        if self.eat(&Token::Name("known".to_owned())) {
            self.expect("(")?;
            let fact = self.fact()?;
            self.expect(")")?;
            return Ok(Node::Known(fact));
        }
        let fact = self.fact()?;
        self.comparison(fact)
    }

    fn fact(&mut self) -> Result<Fact, String> {
        match self.take() {
            Some(Token::Name(name)) => {
                Fact::named(&name).ok_or_else(|| format!("no fact is named `{name}`"))
            }
            other => Err(format!("a fact is wanted, not {other:?}")),
        }
    }

    fn comparison(&mut self, fact: Fact) -> Result<Node, String> {
        if self.eat(&Token::Name("in".to_owned())) {
            return self.one_of(fact);
        }
        let comparison = match self.peek() {
            Some(Token::Sign("<")) => Comparison::Less,
            Some(Token::Sign("<=")) => Comparison::LessOrEqual,
            Some(Token::Sign(">")) => Comparison::More,
            Some(Token::Sign(">=")) => Comparison::MoreOrEqual,
            Some(Token::Sign("==")) => Comparison::Equal,
            Some(Token::Sign("!=")) => Comparison::NotEqual,
            _ if fact.kind() == FactType::Flag => return Ok(Node::Flag(fact)),
            _ => return Err(format!("`{}` is no yes or no: compare it", fact.name())),
        };
        self.take();
        let operand = match self.take() {
            Some(Token::Number(number)) if fact.kind() == FactType::Number => {
                Operand::Number(number)
            }
            Some(Token::Word(word)) => {
                check_word(fact, &word)?;
                if !matches!(comparison, Comparison::Equal | Comparison::NotEqual) {
                    return Err("words are equal or not, never more or less".to_owned());
                }
                Operand::Word(word)
            }
            Some(Token::Name(name)) => {
                let other =
                    Fact::named(&name).ok_or_else(|| format!("no fact is named `{name}`"))?;
                let equal = matches!(comparison, Comparison::Equal | Comparison::NotEqual);
                let alike = match fact.kind() {
                    FactType::Number => true,
                    FactType::Word(_) => equal,
                    FactType::Flag | FactType::Key => false,
                };
                if other.kind() != fact.kind() || !alike {
                    return Err(format!("`{}` and `{name}` cannot be compared", fact.name()));
                }
                Operand::Fact(other)
            }
            other => {
                return Err(format!(
                    "`{}` cannot be compared with {other:?}",
                    fact.name()
                ));
            }
        };
        Ok(Node::Compare(fact, comparison, operand))
    }

    fn one_of(&mut self, fact: Fact) -> Result<Node, String> {
        self.expect("[")?;
        let mut words = Vec::new();
        loop {
            match self.take() {
                Some(Token::Word(word)) => {
                    check_word(fact, &word)?;
                    words.push(word);
                }
                other => return Err(format!("a word is wanted, not {other:?}")),
            }
            if self.eat(&Token::Sign("]")) {
                return Ok(Node::OneOf(fact, words));
            }
            self.expect(",")?;
        }
    }
}

/// A word of a closed list must be on it, so that a typing error in a data file is no silent "never".
fn check_word(fact: Fact, word: &str) -> Result<(), String> {
    match fact.kind() {
        FactType::Key => Ok(()),
        FactType::Word(words) if words.contains(&word) => Ok(()),
        FactType::Word(words) => Err(format!(
            "`{}` is one of {words:?}, not `{word}`",
            fact.name()
        )),
        FactType::Flag | FactType::Number => Err(format!("`{}` is no word", fact.name())),
    }
}

fn one_or(mut parts: Vec<Node>, many: fn(Vec<Node>) -> Node) -> Node {
    if parts.len() == 1 {
        parts.pop().unwrap_or(Node::Always)
    } else {
        many(parts)
    }
}
