package calc

import (
	"fmt"
	"maps"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"traybook/events/eventstest"
)

const heldRefusals = "testdata/refusals.txt"

// What each function says of an argument that is no number, with the bounds of that argument, is held word by word; of
// several such it tells the first. Beside a refusal there is no figure.
func TestEveryRefusalNamesItsBounds(t *testing.T) {
	var out strings.Builder
	for _, name := range slices.Sorted(maps.Keys(takingNumbers)) {
		v := reflect.ValueOf(takingNumbers[name])
		call := func(bad func(i int) bool, value float64) string {
			args := make([]reflect.Value, v.Type().NumIn())
			for i := range args {
				args[i] = reflect.ValueOf(1.0)
				if bad(i) {
					args[i] = reflect.ValueOf(value)
				}
				args[i] = args[i].Convert(v.Type().In(i))
			}
			said := v.Call(args)
			err, _ := said[len(said)-1].Interface().(error)
			if err == nil {
				return "taken"
			}
			for _, r := range said[:len(said)-1] {
				assert.True(t, r.IsZero(), "%s gives %v beside %q", name, r, err)
			}
			return err.Error()
		}
		for at := range v.Type().NumIn() {
			fmt.Fprintf(&out, "%s, argument %d: %s\n", name, at+1, call(func(i int) bool { return i == at }, math.NaN()))
		}
		fmt.Fprintf(&out, "%s, all: %s\n", name, call(func(int) bool { return true }, math.NaN()))
		for from := 1; from < v.Type().NumIn(); from++ {
			fmt.Fprintf(&out, "%s, all from %d on: %s\n", name, from+1, call(func(i int) bool { return i >= from }, math.Inf(1)))
		}
	}
	eventstest.Hold(t, heldRefusals, out.String())
}
