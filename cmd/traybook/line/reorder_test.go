package line_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"traybook/cmd/traybook/line"
)

func value(name string, aliases ...string) line.Flag {
	return line.Flag{Name: name, Aliases: aliases, TakesValue: true}
}

func bench() line.Spec {
	common := []line.Flag{{Name: "json"}, value("at"), value("text")}
	with := func(more ...line.Flag) []line.Flag { return append(append([]line.Flag(nil), common...), more...) }
	return line.Spec{
		Global: []line.Flag{value("book"), {Name: "no-color", Aliases: []string{"no-colour"}}},
		Commands: []line.Command{
			{Name: "expose", Flags: with(line.Flag{Name: "time", Aliases: []string{"t"}, TakesValue: true, Example: "4s"}, value("zone"), line.Flag{Name: "densities", TakesValue: true, Many: true})},
			{Name: "export", Flags: with(value("out"), line.Flag{Name: "force"}), Commands: []line.Command{{Name: "csv", Flags: []line.Flag{value("year")}}, {Name: "pdf"}}},
			{Name: "erase", InFull: true, Flags: with()},
			{Name: "develop", Flags: with()}, {Name: "judge", Flags: with(value("stops"))}, {Name: "note", Flags: with()},
			{Name: "bath", Commands: []line.Command{{Name: "mix", Flags: with(value("volume"))}, {Name: "move", Flags: with()}}},
			{Name: "camera", Alone: true, Flags: with(), Commands: []line.Command{{Name: "check", Flags: with()}}},
			{Name: "today", Aliases: []string{"day"}, Flags: with()},
		},
	}
}

func TestReorder(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"", ""},
		{"today", "today"},
		{"expose f/8 4s", "expose -- f/8 4s"},
		{"expose f/8 --time 4s --json", "expose --time=4s --json -- f/8"},
		{"expose f/8 -t 4s", "expose --time=4s -- f/8"},
		{"expose -time 4s", "expose --time=4s"},
		{"expose --time=4s f/8", "expose --time=4s -- f/8"},
		{"expose —time 4s", "expose --time=4s"},
		{"expose --Time 4s", "expose --time=4s"},
		{"--book b.db expose f/8", "--book=b.db expose -- f/8"},
		{"expose f/8 --book b.db --no-colour", "--book=b.db --no-color expose -- f/8"},
		{"judge redo too-dark -0.5", "judge -- redo too-dark -0.5"},
		{"judge redo -,5 -½ –0.5 −1", "judge -- redo -,5 -½ –0.5 −1"},
		{"judge redo --stops -0.5", "judge --stops=-0.5 -- redo"},
		{"judge redo --stops=-0.5", "judge --stops=-0.5 -- redo"},
		{"expos f/8", "expose -- f/8"},
		{"Expose f/8", "expose -- f/8"},
		{"day", "today"},
		{"bath mix --volume 1l dev-2", "bath mix --volume=1l -- dev-2"},
		{"bath --volume 1l mix dev-2", "bath mix --volume=1l -- dev-2"},
		{"bath mi dev-2 --json", "bath mix --json -- dev-2"},
		{"--time 4s expose f/8", "expose --time=4s -- f/8"},
		{"export csv --out d --year 2026", "export --out=d csv --year=2026"},
		{"export --out - csv", "export --out=- csv"},
		{"camera box --json", "camera --json -- box"},
		{"camera check lens", "camera check -- lens"},
		{"camera", "camera"},
		{"camera box check", "camera -- box check"},
		{"note -- --json", "note -- --json"},
		{"note a -- b -- c", "note -- a b -- c"},
		{"note -", "note -- -"},
		{"note --json=no x", "note --json=false -- x"},
		{"note --json=true x", "note --json -- x"},
		{"expose --densities 1 --densities 2", "expose --densities=1 --densities=2"},
		{"expose --json --json", "expose --json --json"},
		{"--help", "--help"},
		{"-h", "--help"},
		{"help", "--help"},
		{"help expose", "expose --help"},
		{"help bath mix", "bath mix --help"},
		{"bath help", "bath --help"},
		{"bath help mix", "bath mix --help"},
		{"help expose f/8", "expose --help"},
		{"expose f/8 --help", "expose --help"},
		{"expose --tme 4 -h", "expose --help"},
		{"expose --time --help", "expose --help"},
		{"--help expose", "expose --help"},
		{"bath --help", "bath --help"},
		{"expose --book x --time 4s --help", "--book=x expose --help"},
		{"note help", "note -- help"},
		{"--version", "--version"},
		{"-v", "--version"},
		{"--book x --version", "--version"},
	} {
		t.Run(tt.in, func(t *testing.T) {
			got, err := line.Reorder(strings.Fields(tt.in), bench())
			require.NoError(t, err)
			assert.Equal(t, tt.want, strings.Join(got, " "))
			again, err := line.Reorder(got, bench())
			require.NoError(t, err)
			assert.Equal(t, got, again, "the strict order is kept")
		})
	}
}

func TestReorderKeepsWordsWhole(t *testing.T) {
	got, err := line.Reorder([]string{"note", "", "two words", "--text", "", "--at", "-10 m ago", "-- a dash, and more"}, bench())
	require.NoError(t, err)
	assert.Equal(t, []string{"note", "--text=", "--at=-10 m ago", "--", "", "two words", "-- a dash, and more"}, got)
	got, err = line.Reorder([]string{"note", "--text=a\nb=c"}, bench())
	require.NoError(t, err)
	assert.Equal(t, []string{"note", "--text=a\nb=c"}, got)
}

func TestReorderRefuses(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"expsoe f/8", `no command "expsoe"; did you mean expose? traybook --help lists what there is`},
		{"bogus", `no command "bogus"; traybook --help lists what there is`},
		{"exp", `"exp" can be expose or export; write more of it`},
		{"expo", `"expo" can be expose or export; write more of it`},
		{"e", `"e" can be expose, export or erase; write more of it`},
		{"era sitter-1", `"era" is short for erase, which is never shortened; write erase in full`},
		{"bath mux", `bath has no "mux"; did you mean mix? traybook bath --help lists what there is`},
		{"bath", `bath needs one of: mix, move; traybook bath --help lists what there is`},
		{"bath --json", `bath needs one of: mix, move; traybook bath --help lists what there is`},
		{"expose --tiem 4s", `expose has no option "--tiem"; did you mean --time? traybook expose --help lists what there is`},
		{"expose --volume 1l", `expose has no option "--volume"; traybook expose --help lists what there is`},
		{"expose --zzz=1", `expose has no option "--zzz"; traybook expose --help lists what there is`},
		{"expose --bok x", `expose has no option "--bok"; did you mean --book? traybook expose --help lists what there is`},
		{"bath --volum 1l mix", `bath has no "1l"; traybook bath --help lists what there is`},
		{"--bogus", `no option "--bogus"; traybook --help lists what there is`},
		{"expose --time", `--time needs a value; write --time 4s`},
		{"expose --time --json", `--time needs a value, but "--json" follows; write --time 4s, or --time=--json if that is the value`},
		{"expose --time -- 4s", `--time needs a value, but "--" follows; write --time 4s, or --time=-- if that is the value`},
		{"expose --zone", `--zone needs a value; write --zone VALUE`},
		{"expose --time 4s -t 5s", `--time stands twice; give it once`},
		{"expose --json=maybe", `--json takes no value, and "maybe" was given; write --json alone`},
		{"expose --version", `--version stands alone; write traybook --version`},
		{"expose -§", `"-§" is no option; put -- in front of words that begin with a hyphen`},
	} {
		t.Run(tt.in, func(t *testing.T) {
			got, err := line.Reorder(strings.Fields(tt.in), bench())
			require.EqualError(t, err, tt.want)
			assert.Nil(t, got)
		})
	}
}

// Wherever the options stand after the command, the same line comes out.
func TestOptionsStandAnywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		options := [][]string{{"--time", "4s"}, {"--json"}, {"--zone=-1"}, {"--book", "b.db"}, {"--no-color"}}
		words := []string{"f/8", "-0.5", "box-3"}
		var args []string
		w := 0
		for _, o := range options {
			n := rapid.IntRange(0, len(words)-w).Draw(t, "words before")
			args = append(append(args, words[w:w+n]...), o...)
			w += n
		}
		args = append(append([]string{"expose"}, args...), words[w:]...)
		got, err := line.Reorder(args, bench())
		require.NoError(t, err)
		require.Equal(t, "--book=b.db --no-color expose --time=4s --json --zone=-1 -- f/8 -0.5 box-3", strings.Join(got, " "))
	})
}

func TestNearest(t *testing.T) {
	symptoms := []string{"too-dark", "too-light", "flat", "contrasty", "subject-moved", "soft"}
	for word, want := range map[string]string{
		"too-drak": "too-dark", "to-light": "too-light", "falt": "flat", "Flat": "flat", "conrtasty": "contrasty", "subj": "subject-moved", "too-d": "too-dark",
		"too": "", "": "", "x": "", "fog": "", "sift": "soft", "zzzzzz": "", "ft": "",
	} {
		assert.Equal(t, want, line.Nearest(word, symptoms), word)
	}
	assert.Equal(t, "fix", line.Nearest("fx", []string{"fix", "wash"}))
}

func FuzzReorder(f *testing.F) {
	for _, s := range []string{"expose f/8 4s --json", "bath --volume 1l mix", "judge -0.5", "--book x -- note", "--time", "help bath", "note — - --=", "-h", "\xff --text=\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		args := strings.Split(s, " ")
		got, err := line.Reorder(args, bench())
		if err != nil {
			for _, r := range err.Error() {
				if r < ' ' {
					t.Fatalf("%q: control character in %q", args, err)
				}
			}
			return
		}
		again, err := line.Reorder(got, bench())
		if err != nil || strings.Join(again, "\n") != strings.Join(got, "\n") {
			t.Fatalf("%q gives %q, and that %q, %v", args, got, again, err)
		}
	})
}
