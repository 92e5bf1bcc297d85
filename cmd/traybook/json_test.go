package main

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestJSONBearsNoDust(t *testing.T) {
	t.Parallel()
	var b bytes.Buffer
	require.NoError(t, writeJSON(&b, map[string]any{
		"a_time": 7.999999999999994, "b_stops": -3.2e-16, "c_third": 1.0 / 3, "d_bytes": int64(1234567890123456), "e_none": math.Copysign(0, -1),
		"f_text": `-3.2e-16 \ "7.999999999999994":`, "residual": 9.143398242399134e-19, "s_list": []float64{0.1 + 0.2, 1e21, 0.02, -0.7 + 0.1},
	}))
	assert.Equal(t, `{"a_time":8,"b_stops":0,"c_third":0.333333333333,"d_bytes":1234567890123456,"e_none":0,`+
		`"f_text":"-3.2e-16 \\ \"7.999999999999994\":","residual":9.1433982424e-19,"s_list":[0.3,1e+21,0.02,-0.6]}`+"\n", b.String())
}

// Whatever is written stays JSON of the same form, and no number moves by more than its twelfth digit.
func TestJSONLosesNothing(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		numbers := rapid.SliceOf(rapid.Float64()).Draw(t, "numbers")
		texts := rapid.MapOf(rapid.String(), rapid.String()).Draw(t, "texts")
		var b bytes.Buffer
		require.NoError(t, writeJSON(&b, []any{numbers, texts}))
		var back []json.RawMessage
		require.NoError(t, json.Unmarshal(b.Bytes(), &back))
		var n []float64
		require.NoError(t, json.Unmarshal(back[0], &n))
		require.Len(t, n, len(numbers))
		for i := range n {
			require.LessOrEqual(t, math.Abs(n[i]-numbers[i]), math.Max(dust, math.Abs(numbers[i])*5.1e-12))
		}
		want, err := json.Marshal(texts)
		require.NoError(t, err)
		require.JSONEq(t, string(want), string(back[1]))
	})
}
