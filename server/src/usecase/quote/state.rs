//! The states of a quote and what leads from one to another.

/// State of one revision of a quote.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// It may be changed; nobody outside has it.
    Draft,
    /// The customer has it; it stays as it is.
    Sent,
    /// The customer took it.
    Accepted,
    /// The customer did not take it.
    Declined,
    /// The shop took it back.
    Withdrawn,
}

impl State {
    /// Every state.
    pub const ALL: [Self; 5] = [Self::Draft, Self::Sent, Self::Accepted, Self::Declined, Self::Withdrawn];

    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Draft => "draft",
            Self::Sent => "sent",
            Self::Accepted => "accepted",
            Self::Declined => "declined",
            Self::Withdrawn => "withdrawn",
        }
    }

    /// The state with this word.
    pub fn of(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|state| state.word() == word)
    }

    /// The states that may follow.
    pub const fn next(self) -> &'static [Self] {
        match self {
            Self::Draft => &[Self::Sent, Self::Withdrawn],
            Self::Sent => &[Self::Accepted, Self::Declined, Self::Withdrawn],
            Self::Accepted | Self::Declined | Self::Withdrawn => &[],
        }
    }

    /// The states that may follow, in words.
    pub fn next_in_words(self) -> String {
        match self.next() {
            [] => "it stays so; a change makes a new revision".into(),
            next => next.iter().map(|state| state.word()).collect::<Vec<_>>().join(", "),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::State;

    #[test]
    fn nothing_leads_back_and_every_state_but_the_first_is_reached() {
        for (k, state) in State::ALL.into_iter().enumerate() {
            assert_eq!(State::of(state.word()), Some(state));
            assert!(state.next().iter().all(|next| State::ALL.iter().position(|s| s == next) > Some(k)), "{state:?}");
            assert!(k == 0 || State::ALL.iter().any(|from| from.next().contains(&state)), "{state:?}");
        }
        assert_eq!(State::of("lost"), None);
    }
}
