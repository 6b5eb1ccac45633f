"""A row of the bag that is mended or measured again: nothing of it is lost on the way."""

import re

from tests.page.test_measuring import BAG, bag_of


def typed(visit):
    """What stands in the fields of the form, by their names."""
    fields = re.findall(r'<input id="f-[^"]*" name="([^"]*)" value="([^"]*)"', visit.answer.text)
    return {name: value for name, value in fields if value}


def test_a_row_that_was_taken_out_outlasts_a_page_that_is_loaded_again(kart):
    before = bag_of(kart)
    kart.post(f"{BAG}/remove", {"line": "3", "disc": "A02"})
    assert "A02 was taken out" in kart.words
    assert bag_of(kart) != before
    kart.get(str(kart.answer.url))  # loaded again
    assert "A02 was taken out" in kart.words
    fields = typed(kart)
    assert (fields["disc"], fields["thickness"], fields["note"]) == ("A02", "0.906", "invented")
    kart.post(f"{BAG}/add", {**fields, "edge": "dressed"})
    assert "A02 is in the bag." in kart.words
    assert sorted(bag_of(kart).splitlines()) == sorted(before.splitlines())


def test_a_second_measurement_stays_one_when_it_has_a_slip(kart):
    again = {"again": "1", "disc": "A02", "edge": "dressed", "lot": "spring 2026"}
    kart.get(f"{BAG}?again=A02")
    fields = {**typed(kart), **again, "height": "0.486"}
    kart.post(f"{BAG}/add", {**fields, "thickness": "0.96"})
    assert "Expected thickness_mm of repeats within 0.017 mm, got 0.96" in kart.words
    assert 'name="again" value="1"' in kart.answer.text
    kart.post(f"{BAG}/add", {**fields, "thickness": "0.907"})
    assert "A02 is in the bag." in kart.words


def test_a_row_that_is_mended_stays_with_its_set(kart):
    """The column of discs that are kept together is the program's own, and filled in here too."""
    path = kart.house.folder.root / "bag.csv"
    head, *rows = path.read_text().splitlines()
    own = [f"{head},keep_with", *(f"{row},{'red' if n < 20 else ''}" for n, row in enumerate(rows))]
    path.write_text("\n".join(own) + "\n")
    kart.post(f"{BAG}/remove", {"line": "3", "disc": "A02"})
    assert typed(kart)["keep_with"] == "red"
    kart.post(f"{BAG}/add", {**typed(kart), "edge": "dressed"})
    assert path.read_text().splitlines()[-1] == own[2]
    kart.get(f"{BAG}?again=A02")
    again = {**typed(kart), "edge": "dressed", "again": "1"}
    kart.post(f"{BAG}/add", {**again, "thickness": "0.907", "height": "0.486"})
    assert "A02 is in the bag." in kart.words


def test_the_picture_names_lengths_in_the_unit_of_the_file(kart):
    """As the list beside it does, whatever the job is in."""
    rows = (f"A{k},0.787,0.402,0.03{50 + k},0.0189,sharp" for k in range(1, 5))
    head = "disc,od_in,id_in,thickness_in,cone_height_in,edge"
    (kart.house.folder.root / "bag.csv").write_text("\n".join([head, *rows]) + "\n")
    kart.get(BAG)
    assert "0.0351 in" in kart.words
    assert "0.0354 in" in kart.words
    assert " mm" not in kart.answer.text.split('class="picture"')[1].split("</svg>")[0]
