"""Words that lists have in their heads and cells, by what they mean, in seven languages.

English, German, Portuguese, French, Spanish, Italian and Dutch, as people write them; matched
folded (`folded.py`). The words are the project's own choice; nobody else's table stands behind it.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from recycling.tables.lists.folded import folded
from shared.units import MG_PER_UNIT


def _set(words: str) -> frozenset[str]:
    """Fold words that stand with commas between."""
    return frozenset(folded(word) for word in words.split(","))


AT, TIME, SOURCE, POLYMER, FORM, COLOUR = "at", "time", "source", "polymer", "form", "colour"
MASS, GROSS, TARE, COUNT, AMOUNT, UNIT = "mass", "gross", "tare", "count", "amount", "unit"
NOTE, BAG, PROGRAMME, CONSENT, KIND = "note", "bag", "programme", "consent", "kind"
SUPPLIER, DOCUMENT, LINE = "supplier", "document", "line"

HEADS: Mapping[str, str] = {
    AT: """at, date, day, when, date received, received, received on, collected, collected on,
        collection date, date of collection, date collected, delivery date, weighed on, weighed,
        date weighed, brought on, dropped off, pick up date, picked up on, date and time, datetime,
        timestamp, date in, arrived, arrival date, datum, tag, wann, eingang, eingang am,
        eingangsdatum, abgabe, abgabe am, abgabedatum, abgegeben am, sammeltag, sammeldatum,
        angenommen am, annahme am, annahmedatum, gesammelt am, gewogen am, lieferdatum, datum der
        abgabe, datum und uhrzeit, anlieferung, data, dia, quando, data de recolha, data da recolha,
        data de entrega, data da entrega, recolhido em, entregue em, recebido em, data de rececao,
        data e hora, jour, quand, date de collecte, date de la collecte, date de reception, recu le,
        collecte le, date de depot, depose le, pese le, date du don, date et heure, fecha, cuando,
        fecha de recogida, fecha de entrega, recogido el, recibido el, entregado el, fecha y hora,
        fecha de recoleccion, giorno, data di raccolta, data raccolta, data consegna, data di
        consegna, data ritiro, raccolto il, ricevuto il, consegnato il, data e ora, dag, wanneer,
        ophaaldatum, inzameldatum, ontvangen op, opgehaald op, ingezameld op, datum ontvangst,
        gewogen op, datum en tijd""",
    TIME: """time, clock, hour, time of day, uhrzeit, zeit, uhr, um, hora, horas, as horas, heure,
        heures, ora, orario, tijd, tijdstip, uur""",
    SOURCE: """source, donor, giver, who gave, who gave it, given by, from, from whom, school,
        who, donated
        by, organisation, organization, partner, collected from, received from, brought by,
        collection point, donor name, name of donor, giver name, spender, spenderin, spender in,
        geber, geberin, wer, von, von wem, herkunft, quelle, schule, abgeber, einrichtung, gespendet
        von, gebracht von, sammelstelle, name des spenders, wer gab, abgegeben von, doador, doadora,
        dador, dadora, de quem, quem, quem deu, origem, escola, entidade, fonte, doado por, entregue
        por, nome do doador, ponto de recolha, donneur, donateur, donatrice, qui, de qui,
        provenance, ecole, origine, don de, donne par, apporte par, etablissement, nom du donateur,
        point de collecte, donante, donador, quien, de quien, procedencia, origen, escuela, fuente,
        colegio, donado por, entregado por, quien dio, entidad, nombre del donante, donatore,
        donatrice, chi, da chi, provenienza, scuola, fonte, donato da, portato da, chi ha dato,
        ente, gever, schenker, wie, van, van wie, herkomst, bron, gegeven door, gebracht door, donor
        naam, instelling""",
    POLYMER: """polymer, plastic, plastic type, type of plastic, kind of plastic, resin, resin type,
        material, polymer type, resin code, recycling code, kunststoff, plastik, kunststoffart,
        plastikart, kunststoffsorte, werkstoff, polimero, plastico, tipo de plastico, resina, tipo
        de resina, materia, plastique, polymere, matiere, type de plastique, resine, materiau,
        matiere plastique, tipo de polimero, plastica, tipo di plastica, materiale, kunststof,
        plasticsoort, kunststofsoort, polymeer, materiaal, soort plastic, soort kunststof""",
    FORM: """form, what, item, items, what it is, type of item, contents, was, inhalt,
        gegenstand, was
        ist drin, stueckart, art, forma, o que, item recolhido, conteudo, quoi, forme, contenu, que,
        contenido, cosa, contenuto, wat, vorm, inhoud""",
    COLOUR: "colour, color, farbe, cor, couleur, colore, kleur",
    MASS: """mass, weight, net weight, net mass, net, weight net, mass net, wt, net wt,
        weighed mass,
        gewicht, masse, nettogewicht, netto gewicht, netto, nettomasse, gewicht netto, netto masse,
        peso, massa, peso liquido, liquido, massa liquida, poids, poids net, masse nette, net, peso
        neto, neto, masa, masa neta, peso netto, nettogew, gew""",
    GROSS: """gross, gross weight, gross mass, weight gross, with bag, brutto, bruttogewicht, brutto
        gewicht, bruttomasse, gewicht brutto, mit sack, bruto, peso bruto, massa bruta, brut, poids
        brut, masse brute, lordo, peso lordo, brutogewicht, bruto gewicht""",
    TARE: """tare, tare weight, empty bag, bag weight, container weight, tara, taragewicht,
        leergewicht,
        leergut, peso da tara, tara peso, poids a vide, poids de la tare, peso tara, tarra, leeg
        gewicht, tarragewicht""",
    COUNT: """count, pieces, pcs, number of pieces, number of bottles, no of bottles,
        bottle count, how
        many, stueck, stuck, stuckzahl, stueckzahl, anzahl, anzahl flaschen, flaschen, anzahl
        stueck, pecas, unidades, numero de garrafas, n de garrafas, garrafas, pieces, nombre, nb,
        nombre de bouteilles, bouteilles, piezas, numero de botellas, botellas, pezzi, numero di
        pezzi, numero di bottiglie, bottiglie, n pezzi, stuks, aantal, aantal flessen, flessen,
        bottles""",
    AMOUNT: "amount, quantity, qty, menge, quantidade, quantite, cantidad, quantita, hoeveelheid",
    UNIT: "unit, units, einheit, einheiten, unidade, unite, unidad, unita, eenheid, uom",
    NOTE: """note, notes, remark, remarks, comment, comments, bemerkung, bemerkungen, notiz,
        notizen,
        anmerkung, anmerkungen, kommentar, hinweis, nota, notas, observacao, observacoes, obs,
        comentario, comentarios, remarque, remarques, commentaire, commentaires, observation,
        observations, observaciones, osservazioni, osservazione, commenti, opmerking, opmerkingen,
        notitie, bem, sonstiges""",
    BAG: """bag, bag no, bag nr, bag number, bag id, bag label, sack, sack no, sack number, sack nr,
        sacknummer, beutel, beutel nr, saco, n saco, n o saco, n o do saco, n do saco, numero do
        saco, sac, n sac, n de sac, n o de sac, no de sac, no sac, numero de sac, bolsa, n bolsa,
        numero de bolsa, sacco, n sacco, numero sacco, zak, zaknummer, zak nr, box, box no, kiste,
        kiste nr, karton, caixa, carton, caja, scatola, doos, label, etikett""",
    PROGRAMME: """programme, program, project, campaign, drive, grant, programm, projekt, aktion,
        kampagne,
        programa, projeto, projecto, campanha, projet, campagne, proyecto, campana, programma,
        progetto, campagna, actie""",
    CONSENT: """consent, permission, einwilligung, einverstandnis, einverstaendnis, consentimento,
        consentement, consentimiento, consenso, toestemming""",
    KIND: "kind, entry, kind of entry, vorgang, art des vorgangs",
    SUPPLIER: """supplier, vendor, seller, bought from, lieferant, verkaufer, verkaeufer,
        handler, haendler,
        gekauft bei, fornecedor, fornecedora, fournisseur, proveedor, fornitore, leverancier""",
    DOCUMENT: """document, invoice, invoice no, delivery note, receipt, beleg, belegnummer,
        rechnung,
        lieferschein, documento, fatura, guia, facture, bon de livraison, factura, albaran, fattura,
        bolla, factuur, pakbon""",
    LINE: """no, nr, n, n o, #, row, line, id, lfd nr, lfd, laufende nummer, pos, position,
        linha, ligne,
        linea, riga, rij, volgnummer, item no""",
}
"""What may stand over a column, by the field that the column is."""

UNITS: Mapping[str, str] = {
    "kg": """kg, kgs, kilo, kilos, kilogram, kilograms, kilogramm, kilogramme, kilogrammes,
        kilogramo,
        kilogramos, kilograma, kilogramas, quilo, quilos, quilograma, quilogramas, chilo, chili,
        chilogrammo, chilogrammi""",
    "g": "g, gr, grs, gram, grams, gramm, gramme, grammes, gramo, gramos, grama, gramas, grammi, "
    "grammo, grammen",
    "mg": "mg, milligram, milligrams, milligramm, milligrammes, miligramos, miligramas",
    "lb": "lb, lbs, pound, pounds, libra, libras, livre, livres, libbre, pond",
    "oz": "oz, ounce, ounces, unze, unzen, onza, onzas, onca, oncas, once, oncia, ons",
    "t": "t, tonne, tonnes, tonnen, tonelada, toneladas, tonnellate, ton",
}
MG: Mapping[str, Decimal] = {**MG_PER_UNIT, "t": Decimal(10**9)}
"""Milligrams in one unit."""

TOTALS = _set("""total, totals, sum, grand total, subtotal, sub total, overall, in all,
        all together,
    summe, gesamt, gesamtsumme, insgesamt, zwischensumme, endsumme, gesamtgewicht, summe kg,
    soma, total geral, subtotal, somatorio, somme, total general, sous total, suma, suma
    total, totale, somma, subtotale, totale generale, totaal, subtotaal, eindtotaal, som,
    uebertrag, ubertrag, carried forward, total weight, total mass, peso total, poids total,
    peso totale, totaalgewicht, total kg, totaux, totales, totais, totali""")
DITTOS = frozenset(
    ('"', "''", "”", "“", "„", "〃", "″", '-"-', "-”-", '" "', "´´", "``", "do", "do.", "dito",
     "dto", "dto.", "ditto", "idem", "id.", "s.o.", "wie oben", "siehe oben", "as above", "w.o.")
)  # fmt: skip
"""Marks that stand for what stands above."""

EXAMPLE = "example"
EXAMPLES = frozenset(("example", "beispiel"))
"""First words of a cell in the row that a template shows, which is nobody's bag."""

ORIGIN_KINDS: Mapping[str, str] = {
    "collection": """collection, collected, donation, gift, sammlung, spende, gesammelt, recolha,
        doacao,
        collecte, don, recogida, donacion, raccolta, donazione, inzameling, gift""",
    "purchase": """purchase, bought, kauf, einkauf, zukauf, gekauft, compra, comprado, achat,
        achete, acquisto,
        aankoop, inkoop, gekocht""",
    "opening": """opening, opening count, opening stock, stock, anfangsbestand, bestand,
        inventur, inventario,
        existencias, stock initial, inventaire, giacenza, beginvoorraad, voorraad""",
}

FORMS: Mapping[str, str] = {
    "bottles": """bottle, bottles, flasche, flaschen, garrafa, garrafas, bouteille, bouteilles,
        botella,
        botellas, bottiglia, bottiglie, fles, flessen""",
    "caps": """cap, caps, lid, lids, bottle caps, deckel, verschluss, verschlusse, kappen, tampa,
        tampas,
        bouchon, bouchons, tapon, tapones, tappo, tappi, dop, doppen""",
    "rings": "ring, rings, ringe, anel, aneis, anneau, anneaux, bague, bagues, anillo, anillos, "
    "anello, anelli, ringen",
    "labels": "label, labels, etikett, etiketten, rotulo, rotulos, etiquette, etiquettes, "
    "etiqueta, etiquetas, etichetta, etichette",
    "flake": "flake, flakes, flocken, mahlgut, flocos, flocon, flocons, paillettes, escamas, "
    "scaglie, vlokken, maalgoed",
    "pellets": "pellet, pellets, granulat, granules, granulate, granulado, granules, granza, "
    "granulo, granuli, granulaat, korrels",
    "filament": "filament, filamento, filamenti, filamente",
    "clean bottles": "clean bottles, saubere flaschen, garrafas limpas, bouteilles propres, "
    "botellas limpias, bottiglie pulite, schone flessen",
}

POLYMERS: Mapping[str, str] = {
    "PET": """pet, pete, rpet, r pet, pet 1, 1 pet, pet1, 01 pet, polyethylene terephthalate,
        polyethylenterephthalat, polietileno tereftalato, tereftalato de polietileno,
        polietilenotereftalato, polytereftalate d ethylene, polyethylene terephtalate, polietilene
        tereftalato, polyethyleentereftalaat""",
    "HDPE": """hdpe, pe hd, pehd, hd pe, pead, hdpe 2, 2 hdpe, 02 pe hd, high density polyethylene,
        polyethylene high density, polyethylen hoher dichte, polietileno de alta densidade,
        polyethylene haute densite, polietileno de alta densidad, polietilene ad alta densita""",
    "LDPE": """ldpe, pe ld, peld, pebd, ldpe 4, 4 ldpe, 04 pe ld, low density polyethylene,
        polyethylen
        niedriger dichte, polietileno de baixa densidade, polyethylene basse densite, polietileno de
        baja densidad, polietilene a bassa densita""",
    "PP": """pp, pp 5, 5 pp, 05 pp, polypropylene, polypropylen, polipropileno, polipropilene,
        polypropyleen""",
    "PS": "ps, ps 6, 6 ps, 06 ps, polystyrene, polystyrol, poliestireno, polistirene, polystyreen",
    "PVC": "pvc, pvc 3, 3 pvc, 03 pvc, polyvinyl chloride, polyvinylchlorid",
    "PLA": """pla, polylactic acid, polylactide, polymilchsaure, acido polilatico, acide
        polylactique""",
    "PETG": "petg, pet g",
    "ABS": "abs",
}
"""Names of polymers by the code under which a workshop usually has them."""


def by_word(table: Mapping[str, str]) -> dict[str, str]:
    """Turn a table of words around: each folded word to what it means; the first stands."""
    turned: dict[str, str] = {}
    for meaning, words in table.items():
        for word in words.split(","):
            turned.setdefault(folded(word), meaning)
    return turned


HEAD_WORDS = by_word(HEADS)
UNIT_WORDS = by_word(UNITS)
FORM_WORDS = by_word(FORMS)
POLYMER_WORDS = by_word(POLYMERS)
KIND_WORDS = by_word(ORIGIN_KINDS)
JOINS = _set("""in, en, em, of, the, der, die, das, des, de, du, da, do, di, del, della, la, le,
    el, o, a, il, no, per, on, am, im""")
"""Small words that a head may have around its unit."""
