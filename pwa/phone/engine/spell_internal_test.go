package engine

import (
	"encoding/json"
	"reflect"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/pwa/pages"
)

// encoding/json reads back what an answer holds, whatever it is, and writes nothing else
// of it: no member of the type is forgotten.
func TestAnswerIsSpelledWhole(t *testing.T) {
	full := Answer{
		Write: []Write{{Op: "put", In: "meta", Key: "k", Value: "v"}}, Parts: map[string]string{"id": "<p>"}, Problems: map[string]string{"f": "t"},
		Request: &Request{Method: "GET", URL: "/"}, Photo: &pages.Taken{}, Data: []byte("data"), Changed: []string{"job"}, Say: &Say{HTML: "<b>", Tone: "sent", Stay: true},
	}
	text := rapid.OneOf(rapid.String(), rapid.StringOf(rapid.RuneFrom([]rune("\"\\/\n\t\x00\x1f\x7f \u2028<>&ab\u00e9\U0001f50a"))))
	rapid.Check(t, func(t *rapid.T) {
		a, fields := Answer{}, reflect.VisibleFields(reflect.TypeFor[Answer]())
		for i, f := range fields {
			if !rapid.Bool().Draw(t, f.Name) {
				continue
			}
			switch v := reflect.ValueOf(&a).Elem().Field(i); v.Kind() {
			case reflect.String:
				v.SetString(text.Draw(t, "text"))
			case reflect.Int:
				v.SetInt(int64(rapid.Int32().Draw(t, "number")))
			case reflect.Bool:
				v.SetBool(true)
			default:
				given := reflect.ValueOf(full).Field(i)
				require.False(t, given.IsZero(), f.Name)
				v.Set(given)
			}
		}
		spelled, err := a.spell()
		require.NoError(t, err)
		want, err := json.Marshal(a)
		require.NoError(t, err)
		require.JSONEq(t, string(want), string(spelled))
	})
}
