"""Places proposed: apart from what must not touch, together, near their own, in order."""

from dataclasses import replace
from itertools import combinations
from random import Random
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.freezing.placing import Nearness, Place, Proposal, Room, nearness, propose


def number(value: int) -> UUID:
    return UUID(int=value)


def room(address: str, free: int, **other: object) -> Room:
    """A goblet of tank T, canister C in the address `T-C-G`, empty unless `capacity` says more."""
    tank, canister, goblet = (int(part) for part in address.split("-"))
    facts: dict[str, object] = {
        "goblet_id": number(tank * 10_000 + canister * 100 + goblet),
        "canister_id": number(tank * 100 + canister),
        "tank_id": number(tank),
        "address": address,
        "free_straws": free,
        "capacity_straws": free,
    }
    return Room(**{**facts, **other})  # type: ignore[arg-type]


def taken(proposal: Proposal) -> dict[str, int]:
    return {place.address: place.straws for place in proposal.places}


# Together


def test_a_batch_that_fits_one_goblet_is_not_parted() -> None:
    rooms = [room("1-1-1", 24), room("1-1-2", 24), room("1-2-1", 48)]
    assert taken(propose(rooms, straws=48, held=False)) == {"1-2-1": 48}


def test_two_goblets_of_one_canister_come_before_better_fits_of_two_canisters() -> None:
    rooms = [room("1-1-1", 24), room("1-2-1", 24), room("1-3-1", 30), room("1-3-2", 30)]
    assert taken(propose(rooms, straws=48, held=False)) == {"1-3-1": 30, "1-3-2": 18}


def test_two_canisters_of_one_tank_come_before_two_tanks() -> None:
    rooms = [room("1-1-1", 24), room("2-1-1", 30), room("2-2-1", 30)]
    assert taken(propose(rooms, straws=48, held=False)) == {"2-1-1": 30, "2-2-1": 18}


def test_two_tanks_are_taken_where_no_tank_has_room_in_as_few_goblets() -> None:
    rooms = [room("1-1-1", 30), room("1-1-2", 10), room("1-1-3", 10), room("2-1-1", 30)]
    assert taken(propose(rooms, straws=50, held=False)) == {"1-1-1": 30, "2-1-1": 20}


# Near its own


def near(address: str, rank: Nearness) -> Room:
    """A goblet with 10 places left that has this rank."""
    facts: dict[Nearness, dict[str, object]] = {
        Nearness.BATCH: {"capacity_straws": 20, "straws_of_batch": 4, "straws_of_stallion": 4},
        Nearness.STALLION: {"capacity_straws": 20, "straws_of_stallion": 10},
        Nearness.EMPTY_IN_CANISTER: {"canister_has_stallion": True, "tank_has_stallion": True},
        Nearness.EMPTY_IN_TANK: {"tank_has_stallion": True},
        Nearness.EMPTY: {},
        Nearness.SHARED_WITH_STALLION: {"capacity_straws": 20, "straws_of_stallion": 9},
        Nearness.SHARED_IN_CANISTER: {
            "capacity_straws": 20,
            "canister_has_stallion": True,
            "tank_has_stallion": True,
        },
        Nearness.SHARED_IN_TANK: {"capacity_straws": 20, "tank_has_stallion": True},
        Nearness.SHARED: {"capacity_straws": 20},
    }
    return room(address, 10, **facts[rank])


@pytest.mark.parametrize("rank", Nearness)
def test_each_rank_is_told_by_what_is_in_and_around_the_goblet(rank: Nearness) -> None:
    assert nearness(near("1-1-1", rank)) is rank


@pytest.mark.parametrize(("better", "worse"), list(zip(Nearness, list(Nearness)[1:], strict=False)))
def test_the_nearer_goblet_is_taken_whatever_its_address(better: Nearness, worse: Nearness) -> None:
    rooms = [near("1-1-1", worse), near("2-1-1", better)]
    assert taken(propose(rooms, straws=8, held=False)) == {"2-1-1": 8}


def test_an_empty_goblet_comes_before_one_shared_with_another_stallion() -> None:
    shared = room("1-1-1", 8, capacity_straws=24, straws_of_stallion=8, canister_has_stallion=True)
    empty = room("2-1-1", 24)
    assert taken(propose([shared, empty], straws=8, held=False)) == {"2-1-1": 8}


def test_the_best_fit_comes_before_the_first_address() -> None:
    rooms = [room("1-1-1", 30), room("1-1-2", 12), room("1-1-3", 12), room("1-1-4", 9)]
    assert taken(propose(rooms, straws=10, held=False)) == {"1-1-2": 10}


def test_the_best_fit_is_found_in_any_canister() -> None:
    rooms = [room("1-1-1", 30), room("1-2-1", 12)]
    assert taken(propose(rooms, straws=10, held=False)) == {"1-2-1": 10}


def test_of_several_goblets_the_tight_ones_are_filled_and_the_last_keeps_the_space() -> None:
    rooms = [room("1-1-1", 40), room("1-1-2", 30), room("1-1-3", 25), room("1-1-4", 20)]
    assert taken(propose(rooms, straws=48, held=False)) == {"1-1-4": 20, "1-1-2": 28}


def test_a_near_goblet_takes_part_only_if_no_further_goblet_is_needed_for_it() -> None:
    rooms = [near("1-1-1", Nearness.STALLION), room("1-1-2", 20), room("1-1-3", 20)]
    assert taken(propose(rooms, straws=30, held=False)) == {"1-1-1": 10, "1-1-2": 20}
    assert taken(propose(rooms, straws=31, held=False)) == {"1-1-2": 20, "1-1-3": 11}


def test_a_tight_fit_of_the_near_goblet_does_not_push_the_rest_further_away() -> None:
    """Found by search: the batch's tighter goblet would leave too much for the stallion's."""
    rooms = [
        replace(near("1-1-1", Nearness.BATCH), free_straws=3),
        replace(near("1-1-2", Nearness.BATCH), free_straws=4),
        replace(near("1-1-3", Nearness.STALLION), free_straws=7, capacity_straws=17),
        room("1-1-4", 9),
    ]
    assert taken(propose(rooms, straws=11, held=False)) == {"1-1-2": 4, "1-1-3": 7}


def test_the_roomiest_goblet_taken_first_counts_once() -> None:
    roomy = room("1-1-1", 20, canister_has_stallion=True)
    rooms = [roomy, room("1-1-2", 8), room("1-1-3", 15), room("1-1-4", 15)]
    assert taken(propose(rooms, straws=45, held=False)) == {"1-1-1": 20, "1-1-3": 15, "1-1-4": 10}


def test_addresses_are_ordered_by_the_value_of_their_numbers() -> None:
    rooms = [room("1-10-1", 10), room("1-9-1", 10)]
    assert taken(propose(rooms, straws=8, held=False)) == {"1-9-1": 8}


def test_of_equal_goblets_the_first_addresses_are_taken_however_they_are_listed() -> None:
    rooms = [room("1-1-2", 10), room("1-1-3", 10), room("1-1-1", 10)]
    assert taken(propose(rooms, straws=20, held=False)) == {"1-1-1": 10, "1-1-2": 10}


def test_any_plate_s_text_can_be_ordered() -> None:
    plates = ["٣", "7", "B7", "B07", "🐴 1", "", "1"]
    rooms = [replace(room(f"1-1-{i}", 10), address=plate) for i, plate in enumerate(plates)]
    places = propose(rooms, straws=70, held=False).places
    assert [place.address for place in places] == ["", "1", "7", "B07", "B7", "٣", "🐴 1"]


def test_every_place_says_why() -> None:
    [place] = propose([near("1-1-1", Nearness.STALLION)], straws=8, held=False).places
    assert place == Place(
        goblet_id=number(10_101),
        address="1-1-1",
        straws=8,
        why="beside the stallion's other straws",
    )


# Apart


def test_a_batch_free_to_use_never_goes_into_a_quarantine_tank() -> None:
    rooms = [room("1-1-1", 24, quarantine=True, canister_has_stallion=True)]
    assert propose(rooms, straws=8, held=False) == Proposal(places=(), missing_straws=8)


def test_a_batch_free_to_use_never_goes_beside_straws_on_hold() -> None:
    held = room("1-1-1", 8, capacity_straws=24, straws_of_stallion=16, has_held_stock=True)
    assert taken(propose([held, room("2-1-1", 24)], straws=8, held=False)) == {"2-1-1": 8}


def test_a_held_batch_goes_into_quarantine_though_the_stallion_s_goblet_is_nearer() -> None:
    rooms = [room("1-1-1", 24, canister_has_stallion=True), room("2-1-1", 24, quarantine=True)]
    proposal = propose(rooms, straws=8, held=True)
    assert taken(proposal) == {"2-1-1": 8}
    assert proposal.places[0].why == "in quarantine, an empty goblet"


def test_a_held_batch_stays_together_outside_when_quarantine_has_no_room_for_all_of_it() -> None:
    rooms = [room("1-1-1", 24), room("2-1-1", 7, quarantine=True)]
    assert taken(propose(rooms, straws=8, held=True)) == {"1-1-1": 8}


@pytest.mark.parametrize("quarantine", [False, True])
def test_a_held_batch_never_goes_beside_released_stock(quarantine: bool) -> None:
    released = room(
        "1-1-1",
        8,
        capacity_straws=24,
        straws_of_stallion=16,
        has_released_stock=True,
        quarantine=quarantine,
    )
    proposal = propose([released, room("2-1-1", 24)], straws=8, held=True)
    assert taken(proposal) == {"2-1-1": 8}


def test_held_straws_keep_other_held_straws_company() -> None:
    held = room("1-1-1", 8, capacity_straws=24, straws_of_stallion=16, has_held_stock=True)
    assert taken(propose([held, room("1-2-1", 24)], straws=8, held=True)) == {"1-1-1": 8}


# Full


def test_what_finds_no_place_is_counted() -> None:
    rooms = [room("1-1-1", 5), room("1-1-2", 0), room("2-1-1", 4)]
    proposal = propose(rooms, straws=12, held=False)
    assert taken(proposal) == {"1-1-1": 5, "2-1-1": 4}
    assert proposal.missing_straws == 3


def test_a_goblet_that_is_over_full_takes_nothing_from_the_others() -> None:
    rooms = [room("1-1-1", -3, capacity_straws=24), room("1-1-2", 24)]
    assert taken(propose(rooms, straws=24, held=False)) == {"1-1-2": 24}


def test_a_bank_without_goblets_has_no_place() -> None:
    assert propose([], straws=1, held=True) == Proposal(places=(), missing_straws=1)


@pytest.mark.parametrize("straws", [0, -1])
def test_no_straws_are_a_fault_of_ours(straws: int) -> None:
    with pytest.raises(ValueError, match="straws"):
        propose([], straws=straws, held=False)


# Against exhaustive search


@st.composite
def banks(draw: st.DrawFn) -> list[Room]:
    rooms = []
    for index in range(draw(st.integers(0, 8))):
        free = draw(st.sampled_from([0, 1, 2, 3, 5, 7, 8, 9, 9]))
        own = draw(st.integers(0, 3))
        foreign = draw(st.sampled_from([0, 0, 2]))
        tank, canister = draw(st.sampled_from([(1, 1), (1, 1), (1, 1), (1, 2), (2, 1)]))
        rooms.append(
            room(
                f"{tank}-{canister}-{index}",
                free,
                capacity_straws=free + own + foreign,
                straws_of_stallion=own,
                straws_of_batch=draw(st.integers(0, own)),
                canister_has_stallion=own > 0 or draw(st.booleans()),
                tank_has_stallion=own > 0 or draw(st.booleans()),
                quarantine=draw(st.booleans()) and draw(st.booleans()),
                has_held_stock=foreign > 0 and draw(st.booleans()),
                has_released_stock=foreign > 0 and draw(st.booleans()),
            )
        )
    return rooms


def forbidden(place: Room, *, held: bool) -> bool:
    return place.has_released_stock if held else place.quarantine or place.has_held_stock


def sets_with_room(rooms: list[Room], straws: int, goblets: int) -> list[tuple[Room, ...]]:
    return [
        chosen
        for chosen in combinations(rooms, goblets)
        if sum(each.free_straws for each in chosen) >= straws
    ]


@settings(max_examples=500)
@given(banks(), st.integers(1, 40), st.booleans())
def test_no_set_of_fewer_goblets_has_room(rooms: list[Room], straws: int, held: bool) -> None:
    open_rooms = [each for each in rooms if each.free_straws and not forbidden(each, held=held)]
    quarantine = [each for each in open_rooms if each.quarantine]
    if held and sum(each.free_straws for each in quarantine) >= straws:
        open_rooms = quarantine
    proposal = propose(rooms, straws=straws, held=held)
    placed = straws - proposal.missing_straws
    by_id = {each.goblet_id: each for each in open_rooms}

    assert placed == min(straws, sum(each.free_straws for each in open_rooms))
    assert sum(place.straws for place in proposal.places) == placed
    assert len({place.goblet_id for place in proposal.places}) == len(proposal.places)
    for place in proposal.places:
        assert 1 <= place.straws <= by_id[place.goblet_id].free_straws
    for fewer in range(len(proposal.places)):
        assert placed == 0 or not sets_with_room(open_rooms, placed, fewer)


@settings(max_examples=1_000)
@given(banks(), st.integers(1, 40))
def test_no_set_of_as_many_goblets_is_closer_together_or_nearer(
    rooms: list[Room], straws: int
) -> None:
    """Fewest canisters is not claimed; within one canister or tank if any set is, then nearness."""
    open_rooms = [each for each in rooms if each.free_straws and not forbidden(each, held=False)]
    proposal = propose(rooms, straws=straws, held=False)
    if proposal.missing_straws:
        return
    by_id = {each.goblet_id: each for each in open_rooms}
    chosen = tuple(by_id[place.goblet_id] for place in proposal.places)
    alternatives = sets_with_room(open_rooms, straws, len(chosen))
    assert cost(chosen) == min(map(cost, alternatives))


@given(banks(), st.integers(1, 40), st.booleans(), st.randoms(use_true_random=False))
def test_the_order_in_which_goblets_are_listed_does_not_matter(
    rooms: list[Room], straws: int, held: bool, chance: Random
) -> None:
    shuffled = chance.sample(rooms, len(rooms))
    assert propose(shuffled, straws=straws, held=held) == propose(rooms, straws=straws, held=held)


def cost(chosen: tuple[Room, ...]) -> tuple[int, list[Nearness]]:
    if len({each.canister_id for each in chosen}) == 1:
        spread = 1
    else:
        spread = 2 if len({each.tank_id for each in chosen}) == 1 else 3
    return spread, sorted(map(nearness, chosen))
