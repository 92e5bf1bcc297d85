package events

// ClockStartedData is the first press at a cap, a tray or a wash: from now on a clock takes the time of an act. It says
// of the act all that can be said before its time is known. CountInS is how long after the press the cap comes off; of a copy
// Picture is the negative's, of a tray or a wash the sheet's. The act that ends the clock names it in its field clock; a
// clock that no act names and no void took back still runs.
type ClockStartedData struct {
	_                 struct{} `is:"stream=session|book"`
	Act               string   `json:"act" is:"one=expose|reprint|develop|rinse|fix|wash"`
	Picture           string   `json:"picture,omitempty" is:"ref=picture"`
	Sheet             string   `json:"sheet,omitempty" is:"sheet"`
	Bath              string   `json:"bath,omitempty" is:"ref=bath"`
	Box               string   `json:"box,omitempty" is:"ref=box"`
	Holder            string   `json:"holder,omitempty" is:"ref=holder"`
	Reading           string   `json:"reading,omitempty" is:"entry"`
	F                 *float64 `json:"f,omitempty" is:"fnumber"`
	PlannedF          *float64 `json:"planned_f,omitempty" is:"fnumber"`
	PlannedS          *float64 `json:"planned_s,omitempty" is:"num >0 <=864000"`
	CountInS          *float64 `json:"count_in_s,omitempty" is:"num >0 <=60"`
	RockS             *float64 `json:"rock_s,omitempty" is:"num >=0 <=86400"`
	Changes           *int     `json:"changes,omitempty" is:"count >0 <=1000"`
	Aid               string   `json:"aid,omitempty" is:"word"`
	VolumeML          *float64 `json:"volume_ml,omitempty" is:"num >0 <=1000000"`
	Together          *int     `json:"together,omitempty" is:"count >0 <=1000"`
	TempC             *float64 `json:"temp_c,omitempty" is:"num >=-10 <=100"`
	By                string   `json:"by,omitempty" is:"one=time|inspection|factor"`
	TimeOfAppearanceS *float64 `json:"time_of_appearance_s,omitempty" is:"num >0 <=86400"`
	PlannedBox        string   `json:"planned_box,omitempty" is:"ref=box"`
	Way               string   `json:"way,omitempty" is:"one=camera|contact|enlarger"`
	SubjectMM         *float64 `json:"subject_mm,omitempty" is:"num >0 <=10000000000"`
	NearMM            *float64 `json:"near_mm,omitempty" is:"num >0 <=10000000000"`
	FarMM             *float64 `json:"far_mm,omitempty" is:"num >0 <=10000000000"`
	FocusedMM         *float64 `json:"focused_mm,omitempty" is:"num >0 <=10000000000"`
	ExtensionMM       *float64 `json:"extension_mm,omitempty" is:"num >=0 <=20000"`
	Magnification     *float64 `json:"magnification,omitempty" is:"num >0 <=1000"`
	Filter            string   `json:"filter,omitempty" is:"word"`
	FilterFactor      *float64 `json:"filter_factor,omitempty" is:"num >=1 <=100000"`
	PreFlashS         *float64 `json:"pre_flash_s,omitempty" is:"num >=0 <=86400"`
	PreFlash          *float64 `json:"pre_flash,omitempty" is:"share >=0 <=100"`
	Flare             *float64 `json:"flare,omitempty" is:"share >=0 <=1"`
	Motion            string   `json:"motion,omitempty" is:"one=rest|seated|standing|child|walking|afloat"`
	MotionMMS         *float64 `json:"motion_mm_s,omitempty" is:"num >=0 <=1000000"`
	Light             string   `json:"light,omitempty" is:"one=sun|shade|overcast|dusk|lamp"`
	Part              *float64 `json:"part,omitempty" is:"share >0 <=1"`
	Again             string   `json:"again,omitempty" is:"ref=picture"`
	Sitter            string   `json:"sitter,omitempty" is:"sitter"`
	Subject           string   `json:"subject,omitempty" is:"text"`
	Text              string   `json:"text,omitempty" is:"text"`
	Carried
}

// Kind is clock.started.
func (ClockStartedData) Kind() Kind { return ClockStarted }

// clocked are the kinds whose time a clock takes, by what the clock calls them.
var clocked = map[string]Kind{"expose": SheetExposed, "reprint": SheetReprinted, "develop": SheetDeveloped, "rinse": SheetRinsed,
	"fix": SheetFixed, "wash": SheetWashed}

// Clocked are the kinds whose time a clock takes.
func Clocked() []Kind {
	return []Kind{SheetExposed, SheetReprinted, SheetDeveloped, SheetRinsed, SheetFixed, SheetWashed}
}

// ClockedAct is the kind of the act whose time a clock takes.
func (x *ClockStartedData) ClockedAct() Kind { return clocked[x.Act] }

// ClockName is what a clock calls the kind of its act, "" where no clock takes the time of k.
func ClockName(k Kind) string {
	for name, of := range clocked {
		if of == k {
			return name
		}
	}
	return ""
}

// ClockOf gives the clock that took the time of d, "" where none did.
func ClockOf(d Data) string { return textIn(d, "clock") }

// ClockFor is the clock of an act: what d says and a clock keeps.
func ClockFor(d Data) (*ClockStartedData, error) {
	x := &ClockStartedData{Act: ClockName(d.Kind())}
	return x, sameFields(d, x)
}

// ActData is the act that ends the clock as far as the clock tells it: without its time, and without naming the clock.
func (x *ClockStartedData) ActData() (Data, error) {
	d, ok := New(x.ClockedAct())
	if !ok {
		return nil, &FieldError{Kind: ClockStarted, Field: "act", Fault: Missing}
	}
	return d, sameFields(x, d)
}

// FillFrom puts what from says into the empty fields of to that bear the same name.
func FillFrom(from, to Data) error {
	said := map[string]any{}
	for _, f := range Fields(to.Kind()) {
		if v, there := f.Value(to); there && v != 0.0 {
			said[f.Name] = v
		}
	}
	return copyFields(from, to, said)
}

// sameFields puts what from says into the fields of to that bear the same name. A number of nought is one that was not
// said yet.
func sameFields(from, to Data) error { return copyFields(from, to, nil) }

func copyFields(from, to Data, but map[string]any) error {
	for _, f := range Fields(from.Kind()) {
		v, there := f.Value(from)
		g, ok := FieldOf(to.Kind(), f.Name)
		if _, said := but[f.Name]; said || !there || !ok || v == 0.0 {
			continue
		}
		if n, count := v.(int64); count {
			v = int(n)
		}
		if err := g.Put(to, v); err != nil {
			return err
		}
	}
	return nil
}
