from optimizer.orders import limits as module
from optimizer.orders.limits import shipped


def test_catalogs_are_found_in_a_checkout_and_in_an_installed_package(tmp_path, monkeypatch):
    assert shipped("en16983.csv").is_file()
    (tmp_path / "optimizer" / "catalogs").mkdir(parents=True)
    inside = tmp_path / "optimizer" / "catalogs" / "en16983.csv"
    inside.write_text("installed")
    monkeypatch.setattr(module, "files", lambda name: tmp_path / name)
    assert shipped("en16983.csv") == inside.resolve()
