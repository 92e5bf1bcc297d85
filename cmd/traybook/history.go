package main

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

func historyCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "history", Usage: "everything about a picture, sheet, box, bath, session, camera, sitter", Category: forLook,
		UsageText: "traybook history 2026-014\ntraybook history dev-2 --all\ntraybook history mole --as-of 2026-05-03",
		ArgsUsage: "[NAME]",
		Description: "Of a picture: each sheet with what was done, what it called for and by how much it was off.\n" +
			"The digits before an entry are its id; amend and void take them. Without a name: what was written of late.\n" +
			"A picture of this year may be named by its number alone: history 14, why 14.",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "all", Usage: "show voided entries in their places, struck through"},
			asOfFlag(),
		},
		Action: func(c *cli.Context) error {
			if c.NArg() > 1 {
				return line.WrongLinef("traybook history 2026-014", "history takes one name, and %d were given", c.NArg())
			}
			return runQuery(env, c, func(q *query) error {
				name, err := q.named(c.Args().First())
				if err != nil {
					return err
				}
				if name != "" && !c.IsSet("as-of") { // what is written of a thing is its history, also where the clock is behind
					q.snap = snapshot.New(q.tx, time.Time{})
				}
				h, err := report.HistoryOf(q.snap, name, c.Bool("all"))
				if err != nil {
					return err
				}
				if done, err := q.json(h); done {
					return err
				}
				return q.show(func(s *screen.Screen) {
					if h.Picture != nil {
						showPicture(s, h.Picture)
						return
					}
					showThing(s, h.Entity)
				})
			})
		},
	}
}

var shortPicture = line.NewPattern(`^(?:(\d{4})-)?(\d{1,3})$`)

// named puts whole names in the place of short ones: n, 14n and p1 for sheets, 14 and 2026-14 for a picture, a sitter's
// name for the reference.
func (q *query) named(name string) (string, error) {
	if name == "" {
		return "", nil
	}
	if _, there, err := q.tx.Entity(name); there || err != nil {
		return name, err
	}
	if short := strings.ToLower(name); shortSheet.MatchString(short) {
		return (&actContext{tx: q.tx, now: q.at, at: q.at}).sheet(short)
	}
	if m := shortPicture.FindStringSubmatch(name); m != nil {
		year := m[1]
		if year == "" {
			year = q.at.Format("2006")
		}
		whole := fmt.Sprintf("%s-%03s", year, m[2])
		if _, there, err := q.tx.Entity(whole); there || err != nil {
			return whole, err
		}
	}
	ref, known, err := q.sitterRef(name)
	if known || err != nil {
		return ref, err
	}
	return name, nil
}

// sitterRef finds the reference of a sitter by name, in any case.
func (q *query) sitterRef(name string) (string, bool, error) {
	rows, err := q.tx.Sitters()
	if err != nil {
		return "", false, err
	}
	for _, r := range rows {
		if strings.EqualFold(r.Name, strings.TrimSpace(name)) || r.Ref == strings.ToLower(name) {
			return r.Ref, true, nil
		}
	}
	return "", false, nil
}

func showPicture(s *screen.Screen, h *report.PictureHistory) {
	title := h.Picture
	for _, part := range []string{textOf(h.Subject), textOf(h.Sitter)} {
		if part != "" {
			title += ", " + part
		}
	}
	if h.Session != nil {
		title += " · session " + *h.Session
	}
	s.Say(screen.Strong, title)
	day := showEntries(s, h.Entries, "", "")
	for _, sheet := range h.Sheets {
		s.Blank()
		s.Say(screen.Strong, sheetTitle(sheet))
		day = showEntries(s, sheet.Entries, sheet.Sheet, day)
	}
}

func sheetTitle(h report.SheetHistory) string {
	title := h.Sheet + ", " + h.Generation
	if what := wording.Print(h.Sheet); what != h.Sheet {
		title = h.Sheet + ", " + what
	}
	if h.Box != nil {
		title += " on " + *h.Box
	}
	state := textOf(h.State)
	if h.State == nil {
		state = "nothing of it counts any more"
	}
	title += ": " + state
	if h.Verdict != nil {
		title += ", " + *h.Verdict
		if len(h.Symptoms) > 0 {
			title += " (" + strings.Join(h.Symptoms, ", ") + ")"
		}
	}
	return title
}

func showThing(s *screen.Screen, h *report.EntityHistory) {
	title := h.Kind + " " + h.About
	if h.Kind == string(events.Book) {
		title = "What was written of late"
	}
	s.Say(screen.Strong, title)
	if h.Earlier {
		s.Say(screen.Faint, "Earlier entries: traybook history NAME, traybook pictures.")
	}
	showEntries(s, h.Entries, "", "")
}

// showEntries writes entries under the days on which they were done; day is the one that stands above already. It gives
// the last one.
func showEntries(s *screen.Screen, list []report.EntryLine, sheet, day string) string {
	for _, e := range list {
		at, clock, _ := strings.Cut(stampOf(e.At), " ")
		if at != day {
			day = at
			s.Say(screen.Faint, day)
		}
		mark := "  " + clock + "  " + e.ID[:8] + "  "
		below := strings.Repeat(" ", screen.Width(mark))
		if s.Width < narrowHistory { // the digits would leave no room for the words
			below = "         "
		}
		text := strings.TrimPrefix(strings.TrimPrefix(e.Text, sheet+" "), sheet+": ")
		tone := screen.Plain
		if e.Void != nil {
			tone = screen.Struck
		}
		s.Hang(tone, mark, text)
		if e.Void != nil {
			s.Hang(screen.Faint, below, "voided by "+(*e.Void)[:8]+because(e.VoidWhy))
		}
		for _, a := range e.Amended {
			s.Hang(screen.Faint, below, "amended by "+a[:8])
		}
		if text, tone := calledForLine(e); text != "" {
			s.Hang(tone, below, text)
		}
		if e.ServedText != nil {
			s.Hang(screen.Faint, below, "by "+(*e.ServedBy)[:8]+", "+*e.ServedText)
		}
		warn(s, below, e.Warnings)
	}
	return day
}

const narrowHistory = 50

func because(why *string) string {
	if why == nil {
		return ""
	}
	return ": " + *why
}

// calledForLine holds an act against what it called for: an exposure in stops, a bath as a share of its time. It stands
// out where the difference is more than a hand's.
func calledForLine(e report.EntryLine) (string, screen.Tone) {
	if e.CalledForS == nil {
		return "", screen.Plain
	}
	if e.DoneS == nil || e.DeviationStops == nil {
		return "called for " + wording.Seconds(*e.CalledForS), screen.Faint
	}
	kind := events.Kind(e.Kind)
	exposure := kind == events.SheetExposed || kind == events.SheetReprinted
	tone := screen.Plain
	if wording.Agrees(kind, *e.CalledForS, *e.DoneS, *e.DeviationStops, e.Before) {
		tone = screen.Faint
	}
	ratio := math.Exp2(*e.DeviationStops)
	if exposure && math.Abs(*e.DeviationStops) > seenStops || !exposure && (ratio < calc.DevelopLossBelow || ratio > calc.DevelopDarkAbove) {
		tone = screen.Warn
	}
	return wording.CalledForAndDone(kind, *e.CalledForS, *e.DoneS, *e.DeviationStops, e.Before), tone
}

// seenStops is the difference in exposure from which on it is worth a look; below it no cause is ever found.
const seenStops = 0.15
