package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/urfave/cli/v2"

	"traybook/cmd/traybook/line"
	"traybook/cmd/traybook/screen"
	"traybook/events"
)

// testEnv is a world without a terminal, whose clock stands.
func testEnv(vars map[string]string, args ...string) (env Env, out, err *bytes.Buffer) {
	out, err = new(bytes.Buffer), new(bytes.Buffer)
	now := time.Date(2026, 5, 3, 14, 5, 0, 0, time.FixedZone("", 7200))
	return Env{
		Until: context.Background, Args: args, In: strings.NewReader(""), Out: out, Err: err, InFD: -1, OutFD: -1, ErrFD: -1,
		Around: screen.Surroundings{Lookup: func(k string) (string, bool) { v, ok := vars[k]; return v, ok }},
		Now:    func() time.Time { return now }, Tick: func() time.Time { return now }, Local: time.UTC,
	}, out, err
}

// spoken reads an act's line: words and options in any order.
func spoken(t *testing.T, kind events.Kind, text ...string) (data events.Data, err error) {
	t.Helper()
	env, _, _ := testEnv(nil)
	app := newApp(&env)
	known := func(word string) (events.EntityKind, bool) {
		k, ok := map[string]events.EntityKind{"ilex": events.Box, "amber": events.Bath, "quay": events.Session, "obscura": events.Camera}[word]
		return k, ok
	}
	var told error
	app.Commands = []*cli.Command{{Name: "act", Flags: actFlags(kind), Action: func(c *cli.Context) error {
		data, told = parseAct(kind, c, c.Args().Slice(), known)
		return nil
	}}}
	finish(app.Commands)
	args, err := line.Reorder(append([]string{"act"}, text...), specOf(app))
	require.NoError(t, err)
	require.NoError(t, app.Run(append([]string{"traybook"}, args...)))
	return data, told
}

func TestParseAct(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		kind events.Kind
		line string // words parted by blanks; _ stands for a blank in a word
		want string // the fields that were filled
	}{
		{events.LightMetered, "f/8 4s", `{"on":"","mode":"","f":8,"time_s":4}`},
		{events.LightMetered, "f8 1/4 s index 3 shadow -2", `{"on":"","mode":"","f":8,"time_s":0.25,"index":3,"of":"shadow","zone_stops":-2}`},
		{events.LightMetered, "ev 11 iso100 incident scene", `{"on":"scene","mode":"incident","ev":11,"index":100}`},
		{events.LightMetered, "5000lx incident shade", `{"on":"","mode":"incident","lux":5000,"light":"shade"}`},
		{events.LightMetered, "negative f/11 2s 2026-014", `{"on":"negative","mode":"","f":11,"time_s":2,"picture":"2026-014"}`},
		{events.SheetExposed, "f/8 4s", `{"f":8,"time_s":4}`},
		{events.SheetExposed, "f/8 1m30s box-3 250cm seated", `{"box":"box-3","f":8,"time_s":90,"subject_mm":2500,"motion":"seated"}`},
		{events.SheetExposed, "f/5.6 4,5s ilex --distance 2m --near 1.8m", `{"box":"ilex","f":5.6,"time_s":4.5,"subject_mm":2000,"near_mm":1800}`},
		{events.SheetExposed, "f/8 4s distance 2m --pre-flash 30%", `{"f":8,"time_s":4,"subject_mm":2000,"pre_flash":0.3}`},
		{events.SheetExposed, "f/8 4s --pre-flash 2s --motion 5mm/s", `{"f":8,"time_s":4,"pre_flash_s":2,"motion_mm_s":5}`},
		{events.SheetExposed, "f/8 4s The_ferry's_mate quay", `{"f":8,"time_s":4,"subject":"The ferry's mate","session":"quay"}`},
		{events.SheetDeveloped, "60s 20C", `{"time_s":60,"temp_c":20}`},
		{events.SheetDeveloped, "1 min 68F dev-2 n inspection", `{"sheet":"n","bath":"dev-2","time_s":60,"temp_c":20,"by":"inspection"}`},
		{events.SheetDeveloped, "50s 18C 2026-014p1 amber", `{"sheet":"2026-014p1","bath":"amber","time_s":50,"temp_c":18}`},
		{events.SheetFixed, "2m", `{"time_s":120}`},
		{events.SheetWashed, "4 changes 1l 5min", `{"changes":4,"volume_ml":1000,"soak_s":300}`},
		{events.SheetWashed, "30min running", `{"running_s":1800}`},
		{events.SheetJudged, "redo too-dark -0.5", `{"verdict":"redo","symptoms":["too-dark"],"stops":-0.5}`},
		{events.SheetJudged, "redo too dark flat +1/2 stop wet 2026-014n", `{"sheet":"2026-014n","verdict":"redo","symptoms":["too-dark","flat"],"stops":0.5,"wet":true}`},
		{events.SheetJudged, "keep --density 0.1,0.7,1.9", `{"verdict":"keep","density":{"min":0.1,"mid":0.7,"max":1.9}}`},
		{events.SheetJudged, "keep --density mid=0,7 --symptoms flat,contrasty", `{"verdict":"keep","symptoms":["flat","contrasty"],"density":{"mid":0.7}}`},
		{events.PaperReceived, "9x12cm 25 sheets rc --name Harbour --index 3", `{"name":"Harbour","base":"rc","width_mm":90,"height_mm":120,"sheets":25,"index":3}`},
		{events.PaperReceived, "--size 5x7in --sheets 10 --base fb --cost 240 --currency nok", `{"name":"","base":"fb","width_mm":127,"height_mm":177.8,"sheets":10,"cost":240,"currency":"NOK"}`},
		{events.PaperCounted, "box-3 24", `{"box":"box-3","sheets":24}`},
		{events.BathMixed, "developer 1l 1+9 60s 20C --name Amber --capacity 1m2 --life 8h", `{"role":"developer","name":"Amber","volume_ml":1000,"dilution":"1+9","time_s":60,"temp_c":20,"capacity_m2":1,"life_h":8}`},
		{events.BathTested, "amber clearing-time 45s", `{"bath":"amber","test":"clearing-time","value":45,"unit":"s"}`},
		{events.BathTested, "fix-2 temperature 68F", `{"bath":"fix-2","test":"temperature","value":20,"unit":"C"}`},
		{events.BathTested, "fix-2 time-of-appearance --value 8", `{"bath":"fix-2","test":"time-of-appearance","value":8,"unit":"s"}`},
		{events.BathTested, "fix-2 silver-strip --value 3 --unit g/l", `{"bath":"fix-2","test":"silver-strip","value":3,"unit":"g/l"}`},
		{events.SessionOpened, "quay-afternoon clear --lat 59.9N --lon 10.7E", `{"session":"quay-afternoon","lat":59.9,"lon":10.7,"sky":"clear"}`},
		{events.StripExposed, "strip-1 scene 2s 4s 8s f/8", `{"strip":"strip-1","on":"scene","times_s":[2,4,8],"f":8}`},
		{events.StripExposed, "strip-1 scene --times 1,5s;3s;6s", `{"strip":"strip-1","on":"scene","times_s":[1.5,3,6]}`},
		{events.CameraDescribed, "obscura-2 150mm --f-widest 5.6 --f-smallest f/32 --routine developer,stop,fixer", `{"camera":"obscura-2","focal_mm":150,"f_widest":5.6,"f_smallest":32,"routine":["developer","stop","fixer"]}`},
		{events.CameraChecked, "obscura light good", `{"camera":"obscura","what":"light","result":"good"}`},
		{events.NoteWritten, "2026-014 the boat moved", `{"about":"2026-014","text":"the boat moved"}`},
		{events.MomentMarked, "cap off", `{"text":"cap off"}`},
		{events.SheetDelivered, "2026-014p1 sitter-7 --price 400", `{"sheet":"2026-014p1","to":"sitter-7","price":400}`},
	} {
		t.Run(string(c.kind)+" "+c.line, func(t *testing.T) {
			line := strings.Fields(c.line)
			for i := range line {
				line[i] = strings.ReplaceAll(line[i], "_", " ")
			}
			data, err := spoken(t, c.kind, line...)
			require.NoError(t, err)
			got, err := json.Marshal(data)
			require.NoError(t, err)
			assert.JSONEq(t, c.want, string(got))
		})
	}
}

func TestParseActRefuses(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		kind          events.Kind
		line          string
		problem, hint string // parts of what is told
		code          int
	}{
		{events.SheetJudged, "redo too-drak", `"too-drak"`, "too-dark", codeUsage},
		{events.SheetJudged, "redu", `"redu"`, "redo", codeUsage},
		{events.SheetJudged, "keep redo", `"redo"`, "", codeUsage},
		{events.SheetJudged, "keep --symptoms foggy", `"foggy"`, "did you mean fogged?", codeUsage},
		{events.SheetExposed, "f/8 f/11 4s", "f stands twice", "once", codeUsage},
		{events.SheetExposed, "f/8 4s --time 5s", "time stands twice", "once", codeUsage},
		{events.SheetExposed, "f/8 4", `"4"`, "f/4 or 4s", codeUsage},
		{events.SheetExposed, "f/8 4s 2m", "minutes or metres", "--distance 2m", codeUsage},
		{events.SheetExposed, "f/8 4s wibble", `"wibble"`, "f/8", codeUsage},
		{events.SheetExposed, "f/8 0s", "more than 0", "", codeRefused},
		{events.SheetDeveloped, "20", `"20"`, "20s or 20C", codeUsage},
		{events.SheetDeveloped, "60s 150C", "too large", "20C", codeUsage},
		{events.SheetDeveloped, "60s ilex", `"ilex"`, "", codeUsage},
		{events.SheetDeveloped, "60s --temp warm", "--temp", "20C", codeUsage},
		{events.PaperReceived, "9x12", "without a unit", "cm", codeUsage},
		{events.SessionOpened, "quay cleer", `"cleer"`, "clear", codeUsage},
		{events.SheetJudged, "keep --density 0.1,0.7", "density", "mid=0.7", codeUsage},
	} {
		t.Run(string(c.kind)+" "+c.line, func(t *testing.T) {
			_, err := spoken(t, c.kind, strings.Fields(c.line)...)
			require.Error(t, err)
			problem, hint := problemOf(err)
			assert.Contains(t, problem, c.problem)
			assert.Contains(t, hint, c.hint)
			assert.Equal(t, c.code, exitCode(err))
		})
	}
}

// Every field has words for its help, a value to type that it takes, and an option that no other field of its kind
// takes away.
func TestFieldsOnTheCommandLine(t *testing.T) {
	t.Parallel()
	shared := map[string]bool{"pre-flash": true, "motion": true}
	for _, k := range events.Kinds {
		names := map[string]string{}
		for _, f := range events.Fields(k) {
			assert.NotEmpty(t, line.FieldWords[f.Name], "%s %s", k, f.Name)
			if f.Type == "set" {
				continue
			}
			if before, ok := names[f.Option()]; ok && !shared[f.Option()] {
				t.Errorf("%s: --%s is both %s and %s", k, f.Option(), before, f.Name)
			}
			names[f.Option()] = f.Name
			assert.NotContains(t, []string{"at", "json", "book", "no-color", "debug", "help", "version"}, f.Option(), "%s", k)
			switch f.Type {
			case "one", "many", "flag", "name", "ref", "hex64":
				continue
			}
			if k == events.BathTested && f.Name == "value" {
				continue // its dimension is that of the test
			}
			_, err := line.ParseField(k, f, []string{line.ExampleOf(f)})
			assert.NoError(t, err, "%s %s: %s", k, f.Name, line.ExampleOf(f))
		}
	}
}

func TestExitCodes(t *testing.T) {
	t.Parallel()
	for want, err := range map[int]error{
		codeDone: nil, codeRefused: errors.New("no"), codeUsage: line.WrongLinef("do", "wrong"),
		codeDamaged: errors.Join(errors.New("entry 4"), events.ErrDamaged), codeBusy: events.ErrBusy, codeStopped: context.Canceled, 5: status(5),
	} {
		assert.Equal(t, want, exitCode(err))
	}
}

func TestFaultIsToldAndWritesNothing(t *testing.T) {
	t.Parallel()
	env, out, errs := testEnv(nil, "--json", "--debug", "figure")
	env.Around.Lookup = func(string) (string, bool) { panic("the sky fell") }
	env.Args = []string{"figure", "strip", "--base", "2s", "--debug"}
	assert.Equal(t, codeFault, run(env))
	assert.Contains(t, errs.String(), "internal error, nothing was written")
	assert.Contains(t, errs.String(), "the sky fell")
	assert.Empty(t, out.String())
}

func TestHomeBook(t *testing.T) {
	t.Parallel()
	env := func(pairs ...string) func(string) string {
		return func(k string) string {
			for i := 0; i < len(pairs); i += 2 {
				if pairs[i] == k {
					return pairs[i+1]
				}
			}
			return ""
		}
	}
	for _, c := range []struct {
		system string
		env    func(string) string
		want   string
	}{
		{"linux", env("XDG_DATA_HOME", "/data", "HOME", "/home/oda"), "/data/traybook/book.db"},
		{"linux", env("XDG_DATA_HOME", "data", "HOME", "/home/oda"), "/home/oda/.local/share/traybook/book.db"},
		{"darwin", env("HOME", "/Users/oda"), "/Users/oda/Library/Application Support/traybook/book.db"},
		{"windows", env("LOCALAPPDATA", "/c/oda"), "/c/oda/traybook/book.db"},
	} {
		got, err := homeBook(c.system, c.env)
		require.NoError(t, err)
		assert.Equal(t, c.want, got)
	}
	_, err := homeBook("linux", env())
	assert.ErrorContains(t, err, "--book FILE")
}
