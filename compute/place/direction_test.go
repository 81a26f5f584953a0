package place_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"hangtrue/compute/place"
)

func rad(degrees float64) float64 { return degrees * math.Pi / 180 }
func deg(radians float64) float64 { return radians * 180 / math.Pi }

func aimed(azimuth, elevation float64) place.Direction {
	return place.Direction{Azimuth: rad(azimuth), Elevation: rad(elevation)}
}

// Worked from the formulas of ITU-R BS.2076 (X right, Y front, Z up, azimuth positive left) apart from this program, to
// six decimals. Rows 7, 8, 12, 13, 15 and 16 also stand, to three decimals, in the scene files of the BBC R&D binaural
// room impulse responses (AES 142, 2017); rows 1, 2, 3 and 5 in the documentation of the EBU reference renderer.
func TestDirection_Unit(t *testing.T) {
	for _, row := range []struct{ azimuth, elevation, distance, x, y, z float64 }{
		{0, 0, 1, 0, 1, 0},
		{90, 0, 1, -1, 0, 0},
		{-90, 0, 1, 1, 0, 0},
		{180, 0, 1, 0, -1, 0},
		{-180, 0, 1, 0, -1, 0},
		{0, 90, 1, 0, 0, 1},
		{0, -90, 1, 0, 0, -1},
		{30, 0, 2, -1, 1.732051, 0},
		{-110, 0, 2, 1.879385, -0.684040, 0},
		{135, 0, 2.5, -1.767767, -1.767767, 0},
		{45, 30, 2, -1.224745, 1.224745, 1},
		{135, 30, 2, -1.224745, -1.224745, 1},
		{30, 40, 2, -0.766044, 1.326828, 1.285575},
		{110, 40, 2, -1.439693, -0.524005, 1.285575},
		{45, 45, 1.7, -0.85, 0.85, 1.202082},
		{0, -26, 2, 0, 1.797588, -0.876742},
		{45, -22, 2, -1.311236, 1.311236, -0.749213},
		{22.5, 0, 3, -1.148050, 2.771639, 0},
		{60, 5, 3, -2.588190, 1.494292, 0.261467},
	} {
		v := aimed(row.azimuth, row.elevation).Unit().Scale(row.distance)
		assert.InDeltaSlice(t, []float64{row.x, row.y, row.z}, []float64{v.X, v.Y, v.Z}, 6e-7, "%+v", row)
	}
}

// Same convention the other way. Azimuth of the first row and elevations of the fourth and fifth also stand in the tests
// of the EBU reference renderer; the sixth is the documented 2.1 m, 30° set-up of a loudspeaker response data set.
func TestDirectionOf(t *testing.T) {
	for _, row := range []struct{ x, y, z, azimuth, elevation, distance float64 }{
		{1, 1, 0, -45, 0, 1.414214},
		{-1, -1, 0, 135, 0, 1.414214},
		{0, -1, 0, 180, 0, 1},
		{0, 1, 1, 0, 45, 1.414214},
		{math.Sqrt2, math.Sqrt2, 2, -45, 45, 2.828427},
		{-1.05, 1.82, 0, 29.981639, 0, 2.101166},
		{-0.766, 1.327, 1.286, 29.995343, 40.006985, 2.000370},
		{-1.2, 2.0, 0.85, 30.963757, 20.023485, 2.482438},
		{1.6, -1.1, 1.15, -124.508523, 30.637416, 2.256657},
		{-2.1, 0.15, -0.1, 85.914383, -2.719393, 2.107724},
		{0, 0, 1.3, 0, 90, 1.3},
		{0, 0, -1.3, 0, -90, 1.3},
		{0, 0, 0, 0, 0, 0},
		{1e-17, -1, 0, 180, 0, 1}, // rounding right of straight behind stays +180
	} {
		d, distance := place.DirectionOf(place.Vec{X: row.x, Y: row.y, Z: row.z})
		assert.InDeltaSlice(t, []float64{row.azimuth, row.elevation, row.distance},
			[]float64{deg(d.Azimuth), deg(d.Elevation), distance}, 6e-7, "%+v", row)
	}
}

// Angles between two directions, worked with the spherical law of cosines in decimal arithmetic.
func TestBetween(t *testing.T) {
	for _, row := range []struct {
		a, b place.Direction
		want float64
	}{
		{aimed(30, 0), aimed(-30, 0), 60},
		{aimed(45, 30), aimed(-45, 30), 75.5225},
		{aimed(45, 30), aimed(48, 33), 3.9420},
		{aimed(30, 0), aimed(32, 2), 2.8281},
		{aimed(110, 0), aimed(105, 4), 6.3999},
		{aimed(0, 90), aimed(77, 90), 0},
		{aimed(180, 0), aimed(-178, 0), 2},
		{aimed(10, 20), aimed(-170, -20), 180},
	} {
		assert.InDelta(t, row.want, deg(place.Between(row.a, row.b)), 5.1e-5, "%+v", row)
		assert.InDelta(t, row.want, deg(place.Between(row.b, row.a)), 5.1e-5, "%+v", row)
	}
}

// Near 0 and π the arc cosine loses half the digits; small offsets must come back whole.
func TestBetween_SmallAngles(t *testing.T) {
	for _, angle := range []float64{1e-3, 1e-6, 1e-9, 1e-12} {
		a := place.Direction{Azimuth: 0.7}
		assert.InEpsilon(t, angle, place.Between(a, place.Direction{Azimuth: 0.7, Elevation: angle}), 1e-3)
		assert.InDelta(t, math.Pi-angle, place.Between(a, place.Direction{Azimuth: 0.7 - math.Pi, Elevation: angle}), 1e-15)
	}
}

func TestWrap(t *testing.T) {
	for _, row := range []struct{ angle, want float64 }{
		{0, 0}, {math.Pi, math.Pi}, {-math.Pi, math.Pi}, {3 * math.Pi, math.Pi}, {rad(190), rad(-170)}, {rad(-190), rad(170)}, {rad(720), 0},
	} {
		assert.InDelta(t, row.want, place.Wrap(row.angle), 1e-12, "%v", row.angle)
	}
}

func TestDirection_RoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := place.Direction{
			Azimuth:   rapid.Float64Range(-math.Pi+1e-9, math.Pi).Draw(t, "azimuth"),
			Elevation: rapid.Float64Range(-1.57, 1.57).Draw(t, "elevation"),
		}
		got, distance := place.DirectionOf(d.Unit())
		if math.Abs(place.Wrap(got.Azimuth-d.Azimuth)) > 1e-12 || math.Abs(got.Elevation-d.Elevation) > 1e-12 || math.Abs(distance-1) > 1e-14 {
			t.Fatalf("%+v came back as %+v at %v", d, got, distance)
		}
		if got.Azimuth <= -math.Pi || got.Azimuth > math.Pi {
			t.Fatalf("azimuth %v", got.Azimuth)
		}
	})
}
