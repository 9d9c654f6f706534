"""Instruments' names in four languages, with numbers and keys around them. Names: common practice, from memory."""

from __future__ import annotations

import pytest

from rendering.maps.names import numbers_of_name, plain, sound_of_name
from rendering.maps.tables import rows


@pytest.mark.parametrize(("sound", "names"), [
    ("strings.violin", "Violino primo | Violini II | 1. Violine | Geige | Violon | 2nd Violins | Vln. 2 | VIOLINS I | Solo Violin | Vl.1"),
    ("strings.viola", "Viola | Viole | Bratsche | Bratschen | Violas div. | Vla. | Br."),
    ("strings.cello", "Violoncello | Violoncelli | Violoncelle | Cello | Celli | Vc. | Violoncello solo"),
    ("strings.contrabass", "Contrabbasso | Kontrabaß | Kontrabässe | Contrebasse | Double Bass | Cb. | Kb."),
    ("strings.viol", "Viola da gamba"),
    ("wind.flutes.flute", "Flauto | Flauti 1.2 | Flöte | Große Flöte | Flûte | Flute 1 | Fl. 1/2 | Grande Flûte"),
    ("wind.flutes.flute.piccolo", "Ottavino | Flauto piccolo | Kleine Flöte | Petite flûte | Piccolo | Picc."),
    ("wind.flutes.flute.alto", "Flauto contralto | Altflöte | Alto Flute in G"),
    ("wind.reed.oboe", "Oboe | Oboi I, II | Hautbois | Oboen | Ob. 2 | Htb."),
    ("wind.reed.english-horn", "Corno inglese | Englischhorn | Cor anglais | English Horn | C.A. | E.H."),
    ("wind.reed.clarinet",
     "Clarinetto in La | Klarinette in B | Clarinette en si bémol | Clarinet in Bb | B♭ Clarinet 1 | A-Klarinette | Cl. 1"),
    ("wind.reed.clarinet.bass", "Clarinetto basso | Bassklarinette in B | Clarinette basse | Bass Clarinet in B♭ | B. Cl. | Baßklarinette"),
    ("wind.reed.bassoon", "Fagotto | Fagott | Basson | Bassoon 2 | Fg. | Bsn. 1"),
    ("wind.reed.contrabassoon", "Controfagotto | Kontrafagott | Contrebasson | Contrabassoon | Kfg."),
    ("brass.french-horn",
     "Corno in Fa | Corni in F 1.2 | Horn in Es | 4 Hörner in F | Cor | Cors en fa | French Horn 3 | Hn. 1.3 | Cor. II"),
    ("brass.trumpet", "Tromba in Do | Trombe | Trompete in C | Trompette en ut | Trumpet in B♭ 1 | Tpt. 2"),
    ("brass.trombone", "Trombone | Tromboni | Posaune | Posaunen 1.2 | Trombones | Tbn."),
    ("brass.trombone.bass", "Trombone basso | Bassposaune | Trombone basse | Bass Trombone"),
    ("brass.tuba", "Tuba | Basstuba | Bass Tuba | Tba."),
    ("drum.timpani", "Timpani | Pauken | Timbales | Kettledrums | Timp."),
    ("drum.bass-drum", "Gran Cassa | Große Trommel | Grosse caisse | Bass Drum | B.D."),
    ("drum.snare-drum", "Tamburo militare | Kleine Trommel | Caisse claire | Snare Drum | Side Drum"),
    ("metal.cymbal.crash", "Piatti | Becken | Cymbales | Cymbals"),
    ("metal.cymbal.suspended", "Piatto sospeso | Hängendes Becken | Cymbale suspendue | Suspended Cymbal"),
    ("metal.triangle", "Triangolo | Triangel | Triangle | Trgl."),
    ("pitched-percussion.glockenspiel", "Campanelli | Glockenspiel | Jeu de timbres"),
    ("pitched-percussion.tubular-bells", "Campane | Röhrenglocken | Cloches tubulaires | Tubular Bells"),
    ("pluck.harp", "Arpa | Harfe | Harpe | Harp 2 | Hp."),
    ("keyboard.piano", "Pianoforte | Klavier | Piano | Pno."),
    ("keyboard.celesta", "Celesta | Célesta"),
    ("keyboard.harpsichord", "Clavicembalo | Cembalo | Clavecin | Harpsichord | Basso continuo"),
    ("voice.soprano", "Soprano | Sopran | Soprani I | S. | Sopranos"),
    ("voice.bass", "Basso | Bass | Basse | B."),
    ("voice.vocals", "Coro | Chor | Chœur | Choir | Singstimme"),
    ("", "Part 3 | Zzz | 1. | ♪ | MusicXML Part | X Y Z"),
])  # fmt: skip
def test_names(sound: str, names: str) -> None:
    assert {name: sound_of_name(name) for name in names.split(" | ")} == dict.fromkeys(names.split(" | "), sound)


@pytest.mark.parametrize(("name", "numbers"), [
    ("Violin", ()), ("Violin 1", (1,)), ("Violin II", (2,)), ("Violino primo", (1,)), ("Violino secondo", (2,)), ("1. Violine", (1,)),
    ("2nd Violins", (2,)), ("Vln. 2", (2,)), ("Zweite Violine", (2,)), ("Premiers violons", (1,)), ("Violini I e II", (1, 2)),
    ("Horn in F 1.2", (1, 2)), ("Corni in Fa 3.4", (3, 4)), ("Horn 1.3", (1, 3)), ("Flute 1-3", (1, 2, 3)), ("Flöte 1–2", (1, 2)),
    ("Flute 1, 2", (1, 2)), ("Oboe 1/2", (1, 2)), ("Trumpet in C 1 & 2", (1, 2)), ("Horns 1 and 2", (1, 2)), ("Trombe 1°, 2°", (1, 2)),
    ("Flûte 1re", (1,)), ("Clarinet in Bb", ()), ("Clarinet in B♭ 1", (1,)), ("Clarinette en si bémol 2", (2,)), ("Horn in E flat 2", (2,)),
    ("4 Hörner in F", (1, 2, 3, 4)), ("2 Fagotti", (1, 2)), ("Flutes a 2", ()), ("", ()), ("I", ()), ("Trombone III", (3,)),
    ("Part 100", ()), ("Trumpet 0", ()), ("Corno IV in Fa", (4,)), ("99 Luftballons", tuple(range(1, 33))),
])  # fmt: skip
def test_numbers(name: str, numbers: tuple[int, ...]) -> None:
    assert numbers_of_name(name) == numbers


def test_no_name_means_two_sounds() -> None:
    meant: dict[str, str] = {}
    for row in rows("instrument_names.tsv"):
        for column in ("it", "de", "fr", "en", "short"):
            for item in filter(None, row[column].split(" | ")):
                assert meant.setdefault(plain(item), row["sound"]) == row["sound"], item
    assert len(meant) > 900


def test_every_orchestral_instrument_has_a_name_in_each_language() -> None:
    orchestral = (
        "strings.v",
        "strings.c",
        "wind.reed.oboe",
        "wind.reed.clarinet",
        "wind.reed.bassoon",
        "wind.flutes.flute",
        "brass.",
        "drum.timpani",
    )
    rows_here = [row for row in rows("instrument_names.tsv") if row["sound"].startswith(orchestral)]
    ancient = {"brass.sackbutt", "strings.viola-damore"}
    assert [row["sound"] for row in rows_here if row["sound"] not in ancient and not all(row[c] for c in ("it", "de", "fr", "en"))] == []
