package acts

import (
	"slices"
	"strings"
	"time"

	"traybook/events"
	"traybook/projections/calledfor"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// What may hurt somebody is told at the act, in one line: the usual cautions of the trade, common practice without a
// source of our own. The maker's sheet and the rules of the place come first.
var (
	stillCarriesFixer = wording.Warns("still-carries-fixer", "{sheet} is handed over with fixer in it ({why}): rinse, blot and sleeve it, say so, and have it back for its wash")
	carriesSilver     = wording.Warns("carries-silver", "{bath} carries silver: into a labelled can and to where such waste is taken, never into drain, soil, harbour or septic tank")
	noDrain           = wording.Warns("no-drain", "{bath} was a {role}: to where such waste is taken, never into drain, soil or harbour, and never into one can with acid")
	poisonSelenium    = wording.Warns("poison-selenium", "selenium is poisonous through skin and mouth: gloves, open air, no food near it; the maker's sheet comes first")
	poisonSulphide    = wording.Warns("poison-sulphide", "sulphide gives off a poisonous gas with any acid: open air, away from stop and fixer; it fogs paper that lies near")
	noHeatNoAcid      = wording.Warns("no-heat-no-acid", "ferricyanide meets neither heat nor strong acid, which free a poisonous gas from it: gloves, and its own tray")
	noAcidNoFixer     = wording.Warns("no-acid-no-fixer", "chlorine bleach meets neither acid nor fixer, which free a poisonous gas from it: its own tray, rinsed twice")
	glacialBurns      = wording.Warns("glacial-burns", "glacial acid burns skin, eyes and lungs, and its vapour catches fire: dilute it at home with gloves and goggles, acid into water, and carry only that")
	nitrateBurns      = wording.Warns("nitrate-burns", "silver nitrate burns and blackens skin and is worse in an eye: gloves and goggles, a few drops, water for the eyes at hand")
	dichromatePoison  = wording.Warns("dichromate-poison", "dichromate is poisonous, burns, and can cause cancer and lasting allergy: gloves and goggles, never as dust, and where there is another bleach that one")
	permanganateAcid  = wording.Warns("permanganate-acid", "permanganate with acid burns and stains skin and eyes: gloves and goggles, mixed just before use and never bottled tight, never with hydrochloric acid")
	pyroPoison        = wording.Warns("pyro-poison", "pyro is poisonous through skin and as dust: gloves, no powder in wind or camera")
)

// ingredients are those that a label names which ask for a line of their own, by how they are written.
var ingredients = []struct {
	words []string
	says  *wording.Sentence
}{
	{[]string{"selenium"}, poisonSelenium},
	{[]string{"sulphide", "sulfide", "liver of sul"}, poisonSulphide},
	{[]string{"ferricyanide", "prussiate"}, noHeatNoAcid},
	{[]string{"hypochlorite", "chlorine", "household bleach"}, noAcidNoFixer},
	{[]string{"glacial"}, glacialBurns},
	{[]string{"silver nitrate"}, nitrateBurns},
	{[]string{"dichromate", "bichromate"}, dichromatePoison},
	{[]string{"permanganate"}, permanganateAcid},
	{[]string{"pyro"}, pyroPoison},
}

// safetyAgain is for how long a caution is not repeated where an act is done to one sheet after another.
const safetyAgain = 30 * 24 * time.Hour

// safetyWarnings tell what may hurt somebody in an act, or in what it leaves behind.
func safetyWarnings(snap *snapshot.Snapshot, e *events.Entry, p *snapshot.Picture, s *snapshot.Sheet, say sayer) error {
	switch x := e.Data.(type) {
	case *events.SheetDeliveredData:
		if x.As != "" {
			return nil
		}
		return deliveredShort(snap, p, s, say)
	case *events.BathMixedData:
		for _, says := range ingredientsOf(x.Name + " " + x.Text) {
			say(says)
		}
	case *events.BathDiscardedData:
		b, err := wording.IgnoreMissing(snap.Bath(x.Bath))
		if err != nil || b == nil || b.Mixed == nil {
			return err
		}
		switch b.Mixed.Role {
		case "fixer":
			if !takenAway(x.To) {
				say(carriesSilver, x.Bath)
			}
		case "toner", "bleach":
			say(noDrain, x.Bath, b.Mixed.Role)
		}
	case *events.SheetTestedData:
		if x.Test == "silver" {
			return sayOnce(snap, e, poisonSulphide, say)
		}
		return sayOnce(snap, e, nitrateBurns, say)
	case *events.SheetWorkedData:
		if x.How == "bleached" {
			return sayOnce(snap, e, noHeatNoAcid, say)
		}
	}
	return nil
}

// drains are the places, as they are written, to which nothing goes that carries silver.
var drains = []string{"drain", "sink", "gutter", "gully", "soil", "ground", "harbour", "harbor", "sea", "river", "lake", "water", "septic", "toilet"}

// takenAway says whether it is written where a bath went, and that it is none of the places where it must not go.
func takenAway(to string) bool {
	return to != "" && !slices.ContainsFunc(strings.Fields(strings.ToLower(to)), func(word string) bool {
		return slices.Contains(drains, strings.Trim(word, ".,;"))
	})
}

// deliveredShort tells of a sheet that is handed over before its wash is done. Of one whose fixing or washing nobody wrote
// down nothing is known, but for a sheet that was fixed: it was fixed here, and where its wash is not written it lacks it.
func deliveredShort(snap *snapshot.Snapshot, p *snapshot.Picture, s *snapshot.Sheet, say sayer) error {
	if s == nil || len(s.Fixed) == 0 {
		return nil
	}
	short, err := calledfor.ShortOf(snap, p, s)
	if err == nil && short.Washing != "" {
		say(stillCarriesFixer, s.Name, short.Washing)
	}
	return err
}

// sayOnce tells a caution at the first act of its kind in a month.
func sayOnce(snap *snapshot.Snapshot, e *events.Entry, of *wording.Sentence, say sayer) error {
	before, err := snap.Entries(events.Query{Kinds: []events.Kind{e.Kind}, From: e.At.Add(-safetyAgain), To: e.At, Newest: true, Limit: 8})
	if err != nil {
		return err
	}
	same := func(d events.Data) string {
		switch x := d.(type) {
		case *events.SheetTestedData:
			return x.Test
		case *events.SheetWorkedData:
			return x.How
		}
		return ""
	}
	for _, b := range before {
		if b.ID != e.ID && same(b.Data) == same(e.Data) {
			return nil
		}
	}
	say(of)
	return nil
}

// ingredientsOf are the cautions that the ingredients on a label ask for.
func ingredientsOf(label string) []*wording.Sentence {
	label = strings.ToLower(label)
	var out []*wording.Sentence
	for _, i := range ingredients {
		if slices.ContainsFunc(i.words, func(word string) bool { return strings.Contains(label, word) }) {
			out = append(out, i.says)
		}
	}
	return out
}

// CautionsOn are the cautions that belong on the label of a bottle, beside those of its role. Common practice.
func CautionsOn(role, name string) []string {
	out := []string{"Gloves and goggles; no food or drink near it; out of reach of children. The maker's sheet comes first."}
	if text := ofRole[role]; text != "" {
		out = append([]string{text}, out...)
	}
	for _, says := range ingredientsOf(name) {
		out = append(out, says.Warn().Text())
	}
	return out
}

// ofRole are the cautions of each role, as they stand on a bottle.
var ofRole = map[string]string{
	"developer":     "Irritates skin and eyes, and can make skin sensitive.",
	"bleach":        "Burns skin and eyes and stains; with its acid kept from fixer, sulphite and chlorine. To where such waste is taken.",
	"clearing-bath": "Gives off sulphur dioxide with acid: rinse before it, open air.",
	"stop":          "Acid: into water, never water into it; never to fixer, bleach or sulphide.",
	"fixer":         "Gives off sulphur dioxide; never to acid or bleach. When used it carries silver: never into drain, soil or harbour.",
}
