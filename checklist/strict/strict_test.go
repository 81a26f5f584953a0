package strict_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist/strict"
	"hangtrue/compute/tape"
)

// sheet has one field of every kind the mechanism reads.
type sheet struct {
	Title  string             `json:"title"`
	Count  int                `json:"count"`
	Small  uint8              `json:"small,omitempty"`
	Done   bool               `json:"done,omitempty"`
	Mass   float64            `json:"mass_kg"`
	Height float64            `json:"height_m"`
	Tilt   float64            `json:"tilt_deg,omitempty"`
	Spot   [3]float64         `json:"spot_m"`
	Turns  []float64          `json:"turns_deg,omitempty"`
	Holes  [][2]float64       `json:"holes_m,omitempty"`
	System tape.System        `json:"system"`
	Inner  *inner             `json:"inner,omitempty"`
	Rows   []inner            `json:"rows"`
	Table  map[string][]int64 `json:"table,omitempty"`
	mixed
	Mixed
	hidden int
	Skip   int `json:"-"`
}

type mixed struct{ lost int }

// Mixed is embedded, so that its key stands beside the others.
type Mixed struct {
	Beside string `json:"beside,omitempty"`
}

type inner struct {
	Name string  `json:"name"`
	Way  float64 `json:"way_m"`
}

const good = `{"title":"A","count":2,"mass_kg":1.5,"height_m":1.2,"spot_m":[0,1,2],"system":"metric","rows":[{"name":"r","way_m":3}]}`

func decode(t *testing.T, text string) sheet {
	t.Helper()
	var s sheet
	require.NoError(t, strict.Decode([]byte(text), &s).Err())
	return s
}

func TestDecodeReadsEveryKind(t *testing.T) {
	s := decode(t, `{"title":"A\u00e9\ud83d\ude00\n","count":2e0,"small":255,"done":true,"mass_kg":-0.0,"height_m":"4' 1 3/8\"",
		"tilt_deg":180,"spot_m":["1254 mm",1.0000004,"125.4 cm"],"turns_deg":[90,-45],"holes_m":[["1/2 in",0]],"system":"imperial",
		"inner":{"name":"i","way_m":-1},"rows":[],"table":{"b":[1,2],"a/b":[]},"beside":"B"}`)
	assert.Equal(t, "Aé😀\n", s.Title)
	assert.Equal(t, 2, s.Count)
	assert.EqualValues(t, 255, s.Small)
	assert.True(t, s.Done)
	assert.False(t, math.Signbit(s.Mass), "minus zero is zero")
	assert.Equal(t, 1.254125, s.Height) // 49.375 in at 25.4 mm to the inch (international inch of 1959)
	assert.Equal(t, math.Pi, s.Tilt)
	assert.Equal(t, [3]float64{1.254, 1, 1.254}, s.Spot, "to whole micrometres")
	assert.InDeltaSlice(t, []float64{math.Pi / 2, -math.Pi / 4}, s.Turns, 1e-15)
	assert.Equal(t, [][2]float64{{0.0127, 0}}, s.Holes)
	assert.Equal(t, tape.Imperial, s.System)
	assert.Equal(t, &inner{Name: "i", Way: -1}, s.Inner)
	assert.Nil(t, s.Rows)
	assert.Equal(t, map[string][]int64{"b": {1, 2}, "a/b": nil}, s.Table)
	assert.Equal(t, "B", s.Beside)
}

func TestDecodeNamesTheProblem(t *testing.T) {
	with := func(old, new string) string { return strings.Replace(good, old, new, 1) }
	deep := strings.Repeat(`[`, strict.MaxDepth) + strings.Repeat(`]`, strict.MaxDepth)
	for name, row := range map[string]struct{ text, pointer, read, want string }{
		"empty":             {"", "", "the end of the document", "a JSON value"},
		"not an object":     {"[]", "", "an array", "an object"},
		"null document":     {"null", "", "null", "an object"},
		"trailing data":     {good + " {}", "", "'{' at line 1, column 121", "the end of the document"},
		"trailing comma":    {`{"title":"A",}`, "", "'}' at line 1, column 14", "a key in double quotes"},
		"leading zero":      {with(`"count":2`, `"count":02`), "", "'2' at line 1, column 23", "a comma or the end of the object"},
		"NaN":               {with(`1.5`, `NaN`), "", "'N' at line 1, column 34", "a JSON value"},
		"byte order mark":   {"\ufeff" + good, "", `'\ufeff' at line 1, column 1`, "a JSON value"},
		"not UTF-8":         {with(`"A"`, "\"\xff\""), "", "byte 0xff at line 1, column 11", "UTF-8 text"},
		"lone surrogate":    {with(`"A"`, `"\ud800"`), "", "'\"' at line 1, column 17", "a whole character: surrogates come in pairs"},
		"raw control":       {with(`"A"`, "\"\x01\""), "", `'\x01' at line 1, column 11`, "control characters escaped"},
		"escaped control":   {with(`"A"`, `"\u0000"`), "/title", `"\x00"`, "no control characters"},
		"direction mark":    {with(`"A"`, `"\u202e"`), "/title", `"\u202e"`, "no control characters"},
		"text too long":     {with(`"A"`, `"`+strings.Repeat("é", strict.MaxText+1)+`"`), "/title", `"` + strings.Repeat("é", 59), "at most 4000 characters"},
		"too deep":          {with(`[0,1,2]`, deep), "", "", "at most 16 levels of nesting"},
		"duplicate":         {with(`"count":2`, `"count":2,"count":3`), "/count", "the key a second time", "each key once"},
		"unknown":           {with(`"height_m"`, `"hieght_m"`), "/hieght_m", `the unknown key "hieght_m"`, `a known key; perhaps "height_m"`},
		"far unknown":       {with(`"height_m"`, `"zzzzzz/~"`), "/zzzzzz~1~0", `the unknown key "zzzzzz/~"`, "one of title, count"},
		"other case":        {with(`"title"`, `"Title"`), "/Title", `the unknown key "Title"`, `a known key; perhaps "title"`},
		"missing":           {with(`"count":2,`, ``), "/count", "nothing", "a whole number"},
		"missing in row":    {with(`"name":"r",`, ``), "/rows/0/name", "nothing", "a text"},
		"null value":        {with(`"count":2`, `"count":2,"inner":null`), "/inner", "null", "an object"},
		"text for number":   {with(`1.5`, `"1.5"`), "/mass_kg", `"1.5"`, "a number"},
		"number for text":   {with(`"A"`, `7`), "/title", "7", "a text"},
		"number for bool":   {with(`"count":2`, `"count":2,"done":1`), "/done", "1", "true or false"},
		"object for array":  {with(`[0,1,2]`, `{}`), "/spot_m", "an object", "an array of 3"},
		"short array":       {with(`[0,1,2]`, `[0,1]`), "/spot_m", "2 elements", "an array of 3"},
		"huge":              {with(`1.5`, `1e308`), "/mass_kg", "1e308", "a number below 1e+12"},
		"beyond float64":    {with(`1.5`, `1e400`), "/mass_kg", "1e400", "a number below 1e+12"},
		"at the bound":      {with(`1.5`, `-1e12`), "/mass_kg", "-1e12", "a number below 1e+12"},
		"long length":       {with(`1.2`, `1000.5`), "/height_m", "1000.5", "metres from -1000 to 1000"},
		"bad tape text":     {with(`1.2`, `"4 parsecs"`), "/height_m", `"4 parsecs"`, "a number with m, cm, mm, in or ft"},
		"ambiguous tape":    {with(`1.2`, `"1,254 mm"`), "/height_m", `"1,254 mm"`, "no comma before three digits"},
		"more than a turn":  {with(`"count":2`, `"count":2,"tilt_deg":361`), "/tilt_deg", "361", "degrees from -360 to 360"},
		"tape for angle":    {with(`"count":2`, `"count":2,"tilt_deg":"1 m"`), "/tilt_deg", `"1 m"`, "degrees as a number"},
		"not whole":         {with(`"count":2`, `"count":2.5`), "/count", "2.5", "a whole number"},
		"does not fit":      {with(`"count":2`, `"count":2,"small":256`), "/small", "256", "a whole number that fits 8 bits"},
		"negative unsigned": {with(`"count":2`, `"count":2,"small":-1`), "/small", "-1", "a whole number that fits 8 bits"},
		"own text type":     {with(`"metric"`, `"metrisch"`), "/system", `"metrisch"`, "want metric or imperial"},
		"duplicate in map":  {with(`"count":2`, `"count":2,"table":{"a":[1],"a":[2]}`), "/table/a", "the key a second time", "each key once"},
		"wrong in map":      {with(`"count":2`, `"count":2,"table":{"a":[1,"x"]}`), "/table/a/1", `"x"`, "a whole number"},
		"map is none":       {with(`"count":2`, `"count":2,"table":[]`), "/table", "an array", "an object"},
		"control in a key":  {with(`"count":2`, `"count":2,"table":{"\u0007":[]}`), "/table/\a", `the key "\a"`, "no control characters"},
		"hidden field":      {with(`"count":2`, `"count":2,"hidden":1`), "/hidden", `the unknown key "hidden"`, "one of"},
	} {
		t.Run(name, func(t *testing.T) {
			var s sheet
			ps := strict.Decode([]byte(row.text), &s)
			require.NotEmpty(t, ps)
			at := 0
			for at < len(ps)-1 && ps[at].Pointer != row.pointer { // an unknown key leaves its neighbour missing
				at++
			}
			assert.Equal(t, row.pointer, ps[at].Pointer)
			assert.True(t, strings.HasPrefix(ps[at].Read, row.read), "%q does not begin with %q", ps[at].Read, row.read)
			assert.Contains(t, ps[at].Want, row.want)
		})
	}
}

func TestDecodeNamesAllProblemsInOrder(t *testing.T) {
	var s sheet
	ps := strict.Decode([]byte(`{"rows":[{"name":1,"way_m":"x"},7],"spot_m":[0,"?",null],"title":"A","mass_kg":1e99,"system":"metric","extra":0}`), &s)
	assert.Equal(t, strings.Join([]string{
		`/count: read nothing, want a whole number`,
		`/height_m: read nothing, want metres as a number, or a text such as "1254 mm"`,
		`/rows/0/name: read 1, want a text`,
		`/rows/0/way_m: read "x", want a number with m, cm, mm, in or ft`,
		`/rows/1: read 7, want an object`,
		`/spot_m/1: read "?", want a number with m, cm, mm, in or ft`,
		`/spot_m/2: read null, want metres as a number, or a text such as "1254 mm"`,
		`/mass_kg: read 1e99, want a number below 1e+12`,
		`/extra: read the unknown key "extra", want one of title, count, small, done, mass_kg, height_m, tilt_deg, spot_m, turns_deg, holes_m, system, inner, rows, table, beside`,
	}, "\n"), ps.Error())
}

func TestProblems(t *testing.T) {
	var ps strict.Problems
	assert.NoError(t, ps.Err())
	ps.Add("/rows/0/way_m", "3", "less")
	ps.Add("/title", `"A"`, "another")
	ps.Sort([]byte(good))
	assert.Equal(t, "/title", ps[0].Pointer)
	assert.True(t, ps.Has("/rows/0"))
	assert.True(t, ps.Has("/title/below"))
	assert.False(t, ps.Has("/row"))
	assert.EqualError(t, ps.Err(), "/title: read \"A\", want another\n/rows/0/way_m: read 3, want less")
	for range 2 * strict.MaxProblems {
		ps.Add("/title", "", "")
	}
	assert.Len(t, ps, strict.MaxProblems+1)
}

// Examples of RFC 6901 section 5.
func TestPointer(t *testing.T) {
	assert.Equal(t, "/foo/0", strict.Pointer("", "foo", 0))
	assert.Equal(t, "/", strict.Pointer("", ""))
	assert.Equal(t, "/a~1b", strict.Pointer("", "a/b"))
	assert.Equal(t, "/m~0n", strict.Pointer("", "m~n"))
}

func TestDecodeSize(t *testing.T) {
	var s sheet
	fits := good + strings.Repeat(" ", strict.MaxSize-len(good))
	assert.Empty(t, strict.Decode([]byte(fits), &s))
	assert.ErrorContains(t, strict.Decode([]byte(fits+" "), &s), "want at most 1048576 bytes")
}

func TestDecodePanicsOnProgramFaults(t *testing.T) {
	assert.Panics(t, func() { strict.Decode([]byte(`{}`), sheet{}) })
	assert.Panics(t, func() { strict.Decode([]byte(`{}`), (*sheet)(nil)) })
	assert.Panics(t, func() { strict.Decode([]byte(`{}`), &struct{ Untagged int }{}) })
}

func TestEncode(t *testing.T) {
	data, err := strict.Encode(sheet{
		Title: `<"A">`, Height: 1.2541250000000003, Tilt: math.Pi / 6, Mass: 1e-9, Spot: [3]float64{0.000001, 500, -0.1}, Holes: [][2]float64{{0, 0.05}},
		Rows: []inner{{Name: "r"}}, Table: map[string][]int64{"b": {1, 2}, "a": nil},
	})
	require.NoError(t, err)
	assert.Equal(t, `{
  "title": "<\"A\">",
  "count": 0,
  "mass_kg": 1e-09,
  "height_m": 1.254125,
  "tilt_deg": 30,
  "spot_m": [0.000001, 500, -0.1],
  "holes_m": [[0, 0.05]],
  "system": "metric",
  "rows": [
    {
      "name": "r",
      "way_m": 0
    }
  ],
  "table": {
    "a": [],
    "b": [1, 2]
  }
}
`, string(data))
	line, err := strict.EncodeLine(inner{Name: "r"})
	require.NoError(t, err)
	assert.Equal(t, `{"name":"r","way_m":0}`, string(line))
}

func TestEncodeRefuses(t *testing.T) {
	for name, v := range map[string]any{
		"NaN":           sheet{Mass: math.NaN()},
		"infinite":      sheet{Height: math.Inf(1)},
		"NaN angle":     sheet{Tilt: math.NaN()},
		"long":          sheet{Spot: [3]float64{0, 0, 1001}},
		"turn":          sheet{Tilt: 7},
		"huge":          sheet{Mass: 1e12},
		"huge integer":  sheet{Count: 1e12},
		"not UTF-8":     sheet{Title: "\xff"},
		"control":       sheet{Title: "\x00"},
		"unknown value": sheet{System: 9},
		"no struct":     7,
	} {
		t.Run(name, func(t *testing.T) {
			_, err := strict.Encode(v)
			assert.ErrorIs(t, err, strict.ErrEncode)
		})
	}
}

func sheets() *rapid.Generator[sheet] {
	name := rapid.StringOfN(rapid.RuneFrom([]rune("aé😀\n\"\\/<&~ 漢")), 0, 12, -1)
	length := rapid.Custom(func(t *rapid.T) float64 { return float64(rapid.Int64Range(-1e9, 1e9).Draw(t, "um")) / 1e6 })
	angle := rapid.Custom(func(t *rapid.T) float64 {
		return float64(rapid.Int64Range(-360e6, 360e6).Draw(t, "udeg")) / 1e6 * (math.Pi / 180)
	})
	row := rapid.Custom(func(t *rapid.T) inner { return inner{Name: name.Draw(t, "name"), Way: length.Draw(t, "way")} })
	return rapid.Custom(func(t *rapid.T) sheet {
		s := sheet{
			Title:  name.Draw(t, "title"),
			Count:  rapid.IntRange(-1e12+1, 1e12-1).Draw(t, "count"),
			Small:  rapid.Uint8().Draw(t, "small"),
			Done:   rapid.Bool().Draw(t, "done"),
			Mass:   rapid.Float64Range(-0.999e12, 0.999e12).Draw(t, "mass") + 0,
			Height: length.Draw(t, "height"),
			Tilt:   angle.Draw(t, "tilt"),
			Spot:   [3]float64{length.Draw(t, "x"), length.Draw(t, "y"), length.Draw(t, "z")},
			System: rapid.SampledFrom([]tape.System{tape.Metric, tape.Imperial}).Draw(t, "system"),
		}
		for range rapid.IntRange(0, 3).Draw(t, "n") {
			s.Turns = append(s.Turns, angle.Draw(t, "turn"))
			s.Holes = append(s.Holes, [2]float64{length.Draw(t, "a"), length.Draw(t, "b")})
			s.Rows = append(s.Rows, row.Draw(t, "row"))
			if s.Table == nil {
				s.Table = map[string][]int64{}
			}
			s.Table[name.Draw(t, "key")] = []int64{rapid.Int64Range(-1e11, 1e11).Draw(t, "cell")}
		}
		if rapid.Bool().Draw(t, "has") {
			r := row.Draw(t, "inner")
			s.Inner = &r
		}
		return s
	})
}

func TestDecodeOfEncodeIsTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := sheets().Draw(t, "sheet")
		data, err := strict.Encode(want)
		if err != nil {
			t.Fatal(err)
		}
		var got sheet
		if err := strict.Decode(data, &got).Err(); err != nil {
			t.Fatalf("%v\n%s", err, data)
		}
		if !assert.ObjectsAreEqual(want, got) {
			t.Fatalf("want %+v\ngot  %+v", want, got)
		}
	})
}

// The syntax accepted is that of RFC 8259 as encoding/json checks it, less what this package adds to it.
func TestDecodeSyntaxAgreesWithEncodingJSON(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOfN(rapid.RuneFrom([]rune(`{}[]:,"\/ub01.9-+eE ntrfalsu`)), 0, 24, -1).Draw(t, "text")
		if rapid.Bool().Draw(t, "mutate") {
			at := rapid.IntRange(0, len(good)).Draw(t, "at")
			text = good[:at] + text + good[at:]
		}
		ps := strict.Decode([]byte(text), &sheet{})
		syntax := len(ps) == 1 && ps[0].Pointer == "" && !strings.HasPrefix(ps[0].Want, "an object")
		if syntax && (strings.Contains(ps[0].Want, "levels of nesting") || strings.Contains(ps[0].Want, "surrogates")) {
			return // stricter here, and said to be
		}
		if valid := json.Valid([]byte(text)); valid == syntax {
			t.Fatalf("%q: encoding/json says valid is %v; %v", text, valid, ps)
		}
	})
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte(good))
	f.Add([]byte(`{"title":"A","title":1,"spot_m":["1 m",2,{}]}`))
	f.Add([]byte(`{"a":[[[[[[[[[[[[[[[[[[[[`))
	f.Add([]byte(strings.Replace(good, "1.2", `"4' 1 3/8\""`, 1)))
	f.Fuzz(func(t *testing.T, data []byte) {
		var s sheet
		if strict.Decode(data, &s) != nil {
			return
		}
		once, err := strict.Encode(s)
		require.NoError(t, err)
		var again sheet
		require.NoError(t, strict.Decode(once, &again).Err())
		require.Equal(t, s, again)
		twice, err := strict.Encode(again)
		require.NoError(t, err)
		require.Equal(t, string(once), string(twice))
	})
}
