package said

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"traybook/calc"
	"traybook/cmd/traybook/line"
	"traybook/events"
	"traybook/projections/report"
	"traybook/projections/snapshot"
	"traybook/projections/wording"
)

// WantGroup is everything that wants the same words.
type WantGroup struct {
	What  string
	About []string
	Do    string // the command for the first
}

// Wants puts together what wants the same words.
func Wants(list []report.Want) []WantGroup {
	var out []WantGroup
	for _, w := range list {
		i := slices.IndexFunc(out, func(g WantGroup) bool { return g.What == w.What })
		if i < 0 {
			i = len(out)
			out = append(out, WantGroup{What: w.What, Do: w.Do})
		}
		out[i].About = append(out[i].About, w.About)
	}
	return out
}

// Text tells of a group in one line, with the command for its first.
func (g WantGroup) Text() string {
	return wording.FirstOf(g.About, 3, ", ") + " " + g.What + ": " + g.Do
}

// ToPrint tells how many kept negatives wait for their print, and the first few of them, or all.
func ToPrint(list []report.ToPrint, all bool) string {
	shown := len(list)
	if !all {
		shown = min(shown, 3)
	}
	var names []string
	for _, x := range list[:shown] {
		names = append(names, Sheet(x.Sheet, x.Subject))
	}
	text := wording.CountOf(len(list), "kept negative") + " without a good print: " + strings.Join(names, ", ")
	if n := len(list) - shown; n > 0 {
		text += fmt.Sprintf(" and %d more", n)
	}
	return text
}

// Finish tells what the sheets of a day want, a line each, or a line for all of many that want the same.
func Finish(list []report.UnfinishedSheet, all bool) []string {
	const many = 4 // from so many on
	type want struct{ needs, why string }
	var order []want
	by := map[want][]report.UnfinishedSheet{}
	for _, u := range list {
		w := want{needs: u.Needs}
		if u.Why != nil {
			w.why = ": " + *u.Why
		}
		if by[w] == nil {
			order = append(order, w)
		}
		by[w] = append(by[w], u)
	}
	var out []string
	for _, w := range order {
		sheets := by[w]
		if all || len(sheets) < many {
			for _, u := range sheets {
				out = append(out, w.needs+" "+Sheet(u.Sheet, u.Subject)+w.why)
			}
			continue
		}
		out = append(out, fmt.Sprintf("%s %s, %s and %d more%s", w.needs, sheets[0].Sheet, sheets[1].Sheet, len(sheets)-2, w.why))
	}
	return out
}

// StepWords are the words of a wash or a fixing as a hand types them, "" for none.
func StepWords(d events.Data) string {
	var words []string
	add := func(v *float64, unit string) {
		if v != nil {
			words = append(words, wording.Number(*v)+unit)
		}
	}
	switch x := d.(type) {
	case *events.SheetFixedData:
		add(&x.TimeS, "s")
	case *events.SheetWashedData:
		if x.Changes != nil {
			words = append(words, wording.CountOf(*x.Changes, "change"))
		}
		add(x.VolumeML, "ml")
		add(x.SoakS, "s")
		add(x.RunningS, "s running")
		if x.Aid != "" {
			words = append(words, "aid "+x.Aid)
		}
	}
	return strings.Join(words, " ")
}

// Sheet names a sheet with its subject.
func Sheet(sheet string, subject *string) string {
	if subject == nil {
		return sheet
	}
	return sheet + " " + *subject
}

// Session tells of an open session.
func Session(x report.SessionLine, now time.Time) string {
	text := x.Session
	if x.Place != nil {
		text += " at " + *x.Place
	}
	if opened, err := events.ParseTime(Text(x.OpenedAt)); err == nil {
		text += ", open for " + Ago(now.Sub(opened).Seconds())
	}
	if made := Counts(x); made != "" {
		text += ": " + made
	}
	return text
}

// Ago writes how long ago something was, as roughly as a person would say it.
func Ago(s float64) string {
	switch {
	case s < 120:
		s = math.Trunc(s)
	case s < 10*3600:
		s = math.Round(s/60) * 60
	case s < wording.ManyHours*3600:
		s = math.Round(s/3600) * 3600
	default:
		s = math.Floor(s/86400) * 86400
	}
	return wording.Seconds(s)
}

// tellingTemp is from when on it is told how long ago a temperature was measured.
const tellingTemp = 10 * time.Minute

// BathTemp tells the temperature of a bath, and how that is known.
func BathTemp(t snapshot.BathTemp, now time.Time) string {
	text := line.Format(line.Celsius, t.C)
	switch {
	case t.Measured.IsZero():
		return text + ", not measured"
	case t.Doubtful:
		return text + " by the label, last measured " + Ago(now.Sub(t.Measured).Seconds()) + " ago: measure again"
	}
	return text + ", " + Ago(now.Sub(t.Measured).Seconds()) + " ago"
}

// Bath tells how a bath stands, what it calls for, and for how long it serves.
func Bath(b report.BathLine, now time.Time) string {
	text := b.Bath + " (" + b.Role + ") " + b.State
	if b.Used != nil {
		text += ", " + wording.Percent(*b.Used) + " used"
	}
	if b.State == calc.BathPastLife || b.State == calc.BathExhausted {
		return text + ": mix fresh"
	}
	if call, ok := b.Call(); ok {
		text += ", calls for " + call.Brief() + " at " + line.Format(line.Celsius, b.TempC)
		if ago := now.Sub(b.Temp.Measured); b.Temp.Doubtful && b.InTray {
			text += " (measured " + Ago(ago.Seconds()) + " ago: measure again)"
		} else if b.Temp.Known() && ago >= tellingTemp {
			text += " (" + Ago(ago.Seconds()) + " ago)"
		}
	}
	if b.TooCold {
		text += ", too cold at " + line.Format(line.Celsius, b.TempC) + ": warm it"
	}
	switch {
	case b.ExhaustedInH != nil && b.SheetsLeft != nil && (b.PastLifeInH == nil || *b.ExhaustedInH < *b.PastLifeInH):
		text += "; exhausted after " + wording.CountOf(int(*b.SheetsLeft), "more sheet")
		if b.AgeH >= tellingHours {
			text += ", at this rate " + Hours(*b.ExhaustedInH) + " in the tray"
		}
	case b.PastLifeInH != nil && b.InTray:
		text += "; past its tray life at " + clockAfter(now, *b.PastLifeInH)
	case b.PastLifeInH != nil:
		text += "; bottled, " + Hours(*b.PastLifeInH) + " in the tray left"
	}
	return text
}

// Hours writes a number of hours as Ago does.
func Hours(h float64) string { return Ago(h * 3600) }

func clockAfter(now time.Time, h float64) string {
	t := now.Add(time.Duration(h * float64(time.Hour)))
	if t.YearDay() == now.YearDay() && t.Year() == now.Year() {
		return t.Format("15:04")
	}
	return wording.ClockOf(t)
}

// plural writes a count with its noun; words that count no noun stay as they are.
func plural(n int, word string) string {
	switch word {
	case "negative", "print":
		if n != 1 {
			word += "s"
		}
	}
	return fmt.Sprintf("%d %s", n, word)
}

// Counts says what a session made and what became of it.
func Counts(x report.SessionLine) string {
	var made []string
	for _, c := range []struct {
		n    int
		word string
	}{{x.Negatives, "negative"}, {x.Prints, "print"}, {x.Kept, "kept"}, {x.Redo, "to redo"}, {x.Rejected, "rejected"}, {x.Waiting, "waiting"}} {
		if c.n > 0 {
			made = append(made, plural(c.n, c.word))
		}
	}
	return strings.Join(made, ", ")
}

// tellingHours is how long a bath must have stood in the tray before its rate of use tells anything.
const tellingHours = 0.5

// RunsOut is the day on which a box runs out; one that lies years ahead, as after a first afternoon, says nothing.
func RunsOut(b report.BoxLine, now time.Time) string {
	if b.RunsOut == nil || *b.RunsOut > now.AddDate(2, 0, 0).Format("2006-01-02") {
		return ""
	}
	return *b.RunsOut
}

// Paper tells what a box still holds.
func Paper(b report.BoxLine, now time.Time) string {
	text := b.Box
	if b.Name != nil {
		text += " " + *b.Name
	}
	if size := Size(b); size != "" {
		text += ", " + size + " mm"
	}
	text += ": " + Sheets(b.SheetsLeft) + " left"
	if day := RunsOut(b, now); day != "" {
		text += ", to " + day + " at this rate"
	}
	return text
}

// Light tells of the daylight at a place, now and in an hour.
func Light(l report.LightToday) string {
	text := "now " + thenText(l, l.Now) + "; in an hour " + thenText(l, l.InAnHour)
	if set, err := events.ParseTime(Text(l.Sunset)); err == nil {
		text += "; sunset " + set.Format("15:04")
	}
	if l.Index != nil {
		text += fmt.Sprintf(" (%s sky, index %s of %s)", l.Sky, line.Format(line.Plain, *l.Index), Text(l.Box))
	} else {
		text += " (" + l.Sky + " sky)"
	}
	return text
}

func thenText(l report.LightToday, t report.LightThen) string {
	if t.EV100 == nil {
		return "night"
	}
	if t.TimeS == nil {
		return line.Format(line.EV, *t.EV100)
	}
	if *t.TimeS > wording.LongestExposureS {
		return wording.TooDark
	}
	text := line.Format(line.FNumber, l.F) + " " + wording.Seconds(*t.TimeS)
	if t.TooBright {
		text += ", too bright for the cap"
	}
	return text
}

// Size is the size of the sheets of a box, "" where it is not known.
func Size(b report.BoxLine) string {
	if b.WidthMM == nil || b.HeightMM == nil {
		return ""
	}
	return strings.TrimSuffix(line.FormatSize(*b.WidthMM, *b.HeightMM), " mm")
}

// Sheets writes a number of sheets, parts with two decimals at most.
func Sheets(v float64) string { return line.Format(line.Plain, math.Round(v*100)/100) }

// Strip tells which test strip is worth making next.
func Strip(a report.StripAdvice) string {
	return fmt.Sprintf("worth making on the %s with %s: %s", a.On, a.Box, a.Why)
}
