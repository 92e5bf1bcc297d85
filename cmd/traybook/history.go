package main

import (
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/said"
	"traybook/cmd/traybook/screen"
	"traybook/events"
	"traybook/projections/report"
	"traybook/projections/snapshot"
)

func historyCommand(env *Env) *cli.Command {
	return &cli.Command{
		Name: "history", Usage: "everything about a picture, sheet, box, bath, session, camera, sitter", Category: forLook,
		UsageText: "traybook history 2026-014\ntraybook history 2026-014 2026-015\ntraybook history dev-2 --all\ntraybook history mole --as-of 2026-05-03",
		ArgsUsage: "[NAME [NAME]]",
		Description: "Of a picture: each sheet with what was done, what it called for and by how much it was off.\n" +
			"The digits before an entry are its id; amend and void take them. Without a name: what was written last, whenever it happened.\n" +
			"Two names stand side by side on a wide screen, in JSON as an array.\n" +
			"A picture of this year may be named by its number alone: history 14, why 14.",
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "all", Usage: "show voided entries in their places, struck through"},
			asOfFlag(),
		},
		Action: func(c *cli.Context) error {
			if c.NArg() > 2 {
				return line.WrongLinef("traybook history 2026-014", "history takes one name, or two to compare, and %d were given", c.NArg())
			}
			return runQuery(env, c, func(q *query) error {
				if !c.IsSet("as-of") { // what is written is history, also where the clock is behind
					q.snap = snapshot.New(q.tx, time.Time{})
				}
				return ofEach(q, c.Args().Slice(), q.history, drawHistory)
			})
		},
	}
}

func (q *query) history(name string) (report.History, error) {
	name, err := q.named(name)
	if err != nil {
		return report.History{}, err
	}
	return report.HistoryOf(q.snap, name, q.c.Bool("all"))
}

func drawHistory(s *screen.Screen, h report.History) {
	if h.Picture != nil {
		showPicture(s, h.Picture)
		return
	}
	showThing(s, h.Entity)
}

// ofEach answers about one name, or none, or about two side by side; scripts get an array of two.
func ofEach[T any](q *query, names []string, of func(string) (T, error), draw func(*screen.Screen, T)) error {
	if len(names) < 2 {
		names = []string{strings.Join(names, "")}
	}
	var found []T
	for _, name := range names {
		x, err := of(name)
		if err != nil {
			return err
		}
		found = append(found, x)
	}
	one := len(found) == 1
	if q.c.Bool("json") {
		if one {
			return writeJSON(q.env.Out, found[0])
		}
		return writeJSON(q.env.Out, found)
	}
	return q.show(func(s *screen.Screen) {
		if one {
			draw(s, found[0])
			return
		}
		s.Beside(func(s *screen.Screen) { draw(s, found[0]) }, func(s *screen.Screen) { draw(s, found[1]) })
	})
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
	if whole, ok := wholePicture(name, q.at.Year()); ok {
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
	for _, part := range []string{said.Text(h.Subject), said.Text(h.Sitter)} {
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
		s.Say(screen.Strong, said.SheetTitle(sheet))
		day = showEntries(s, sheet.Entries, sheet.Sheet, day)
	}
}

func showThing(s *screen.Screen, h *report.EntityHistory) {
	title := h.Kind + " " + h.About
	if h.Kind == string(events.Book) {
		title = "What was written of late"
	}
	s.Say(screen.Strong, title)
	if h.Earlier {
		s.Say(screen.Faint, "Earlier entries: `traybook history NAME`; `traybook pictures` finds names.")
	}
	showEntries(s, h.Entries, "", "")
}

// showEntries writes entries under the days on which they were done; day is the one that stands above already. It gives
// the last one.
func showEntries(s *screen.Screen, list []report.EntryLine, sheet, day string) string {
	for _, e := range list {
		at, clock, _ := strings.Cut(said.StampOf(e.At), " ")
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
		if text, held := said.CalledForAndDone(e); text != "" {
			s.Hang(heldTone[held], below, text)
		}
		if e.ServedText != nil {
			s.Hang(screen.Faint, below, "by "+(*e.ServedBy)[:8]+", "+*e.ServedText)
		}
		warn(s, below, e.Warnings)
	}
	return day
}

// heldTone lets stand out what was done otherwise than called for.
var heldTone = map[said.Held]screen.Tone{said.AsCalledFor: screen.Faint, said.WithinHand: screen.Plain, said.Off: screen.Warn}

const narrowHistory = 50

func because(why *string) string {
	if why == nil {
		return ""
	}
	return ": " + *why
}
