"""Generated conditions over a few invented facts, and scopes of which one knows more than the other."""

from hypothesis import strategies as st

from recommender.facts.values import Fact, Scope, between, known, one_of

NUMBERS = ("n.a", "n.b")
WORDS = ("w.a", "w.b")
FLAGS = ("f.a", "f.b")
VOCABULARY = ("low", "moderate", "high")
steps = st.integers(-3, 3).map(lambda n: n / 4)
word = st.sampled_from(VOCABULARY)
orders = st.sampled_from(["==", "!=", "<", "<=", ">", ">="])
plain = st.one_of(
    st.builds("{} {} {}".format, st.sampled_from(NUMBERS), orders, steps),
    st.builds("n.a {} n.b".format, orders),
    st.builds("{} in [{}, {}]".format, st.sampled_from(NUMBERS), steps, steps),
    st.builds("{} {} {}".format, st.sampled_from(WORDS), st.sampled_from(["==", "!="]), word),
    st.builds("{} {} [{}, {}]".format, st.sampled_from(WORDS), st.sampled_from(["in", "not in"]), word, word),
    st.builds("w.a {} w.b".format, st.sampled_from(["==", "!="])),
    st.builds("{} {} s.a".format, word, st.sampled_from(["in", "not in"])),
    st.sampled_from(FLAGS),
    st.builds("{} == false".format, st.sampled_from(FLAGS)),
)


def joined(parts: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    return st.one_of(
        st.builds("({}) and ({})".format, parts, parts),
        st.builds("({}) or ({})".format, parts, parts),
        st.builds("not ({})".format, parts),
    )


member_conditions = st.recursive(plain, joined, max_leaves=3)
grouped = st.one_of(
    st.builds(
        "{}({})".format, st.sampled_from(["any_abutment", "all_spans", "any_standing"]), member_conditions
    ),
    st.builds("count_abutments({}) {} {}".format, member_conditions, orders, st.integers(0, 3)),
)
conditions = st.recursive(st.one_of(plain, grouped), joined, max_leaves=6)


@st.composite
def narrowing(draw: st.DrawFn) -> tuple[Scope, Scope]:
    """A scope, and the same one with more known: every bound tighter, every list of words shorter."""

    def layer() -> tuple[dict[str, Fact], dict[str, Fact]]:
        vague: dict[str, Fact] = {}
        sharp: dict[str, Fact] = {}
        for name in NUMBERS:
            low, a, b, high = sorted(draw(st.lists(steps, min_size=4, max_size=4)))
            choices = [Fact(), between(low, high), between(low, None), between(None, high)]
            vague[name] = draw(st.sampled_from(choices))
            sharp[name] = draw(st.sampled_from([between(a, b), known(a), between(a, high), vague[name]]))
            if vague[name].low is None and vague[name].high is None:
                continue
            lows = [x for x in (vague[name].low, sharp[name].low) if x is not None]
            highs = [x for x in (vague[name].high, sharp[name].high) if x is not None]
            sharp[name] = between(max(lows, default=None), min(highs, default=None))
        for name in WORDS:
            wide = draw(st.sets(word, min_size=1))
            narrow = draw(st.sets(st.sampled_from(sorted(wide)), min_size=1))
            vague[name] = draw(st.sampled_from([Fact(), one_of(sorted(wide))]))
            sharp[name] = one_of(sorted(narrow))
        for name in FLAGS:
            value = known(draw(st.booleans()))
            vague[name], sharp[name] = draw(st.sampled_from([Fact(), value])), value
        value = known(frozenset(draw(st.sets(word))))
        vague["s.a"], sharp["s.a"] = draw(st.sampled_from([Fact(), value])), value
        return vague, sharp

    def group() -> tuple[list[Scope], list[Scope]]:
        pairs = [layer() for _ in range(draw(st.integers(0, 2)))]
        return [Scope((v,)) for v, _ in pairs], [Scope((s,)) for _, s in pairs]

    top = layer()
    groups = {name: group() for name in ("abutment", "span", "standing")}
    return (
        Scope((top[0],), {name: pair[0] for name, pair in groups.items()}),
        Scope((top[1],), {name: pair[1] for name, pair in groups.items()}),
    )
