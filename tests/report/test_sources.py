"""What is said from memory is listed by its source, once, and taken out of its sentence whole."""

from __future__ import annotations

from barfem.show.report.sources import without_memory


def test_a_source_keeps_its_name_and_stands_once() -> None:
    sources: dict[str, None] = {}
    said = "EN 13906-1:2002, spring steels: E 206 GPa, 7.85 g/cm3"
    assert without_memory(
        f"51CrV4 QT EN 10089: E 206000 MPa, density 7850 kg/m3 ({said}; from memory, sure)", sources
    ) == (f"51CrV4 QT EN 10089: E 206000 MPa, density 7850 kg/m3 ({said})")
    without_memory(said.replace("206 ", "206\u00a0") + "; from memory, sure", sources)
    assert list(sources) == [said]
    guidance = "EN 10089:2002, Annex D (informative): guidance values of test pieces, no guarantee of a bar"
    without_memory(f"{guidance}; the values from memory, fairly sure", sources)
    without_memory(
        "Shot peening: 500 MPa (default: the low end of what is measured; from memory, fairly sure)", sources
    )
    without_memory("Shot peening leaves 500 MPa (default, the low end of what is measured; from memory, sure)", sources)
    without_memory("Mean stress at a flaw by its own term, ((1 - R) / 2) (Murakami; from memory, sure)", sources)
    assert list(sources)[1:] == [
        guidance,
        "The low end of what is measured",
        "Mean stress at a flaw by its own term, ((1 - R) / 2) (Murakami)",
    ]


def test_what_is_unsure_is_taken_out_whole() -> None:
    sources: dict[str, None] = {}
    text = "from memory, unsure: tensile strength 1500 to 1800 MPa by temper; the yield strength is low"
    assert without_memory(text, sources) == "tensile strength 1500 to 1800 MPa by temper; the yield strength is low"
    assert list(sources) == ["Tensile strength 1500 to 1800 MPa by temper"]
    assert without_memory("DIN 17221:1972, 50CrV4; from memory, unsure", sources) == "DIN 17221:1972, 50CrV4"
