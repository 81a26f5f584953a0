package place

import (
	"fmt"
	"math"
)

// whole is how close to a full turn (radians) a range of azimuths must come to mean any azimuth.
const whole = 1e-9

// Sector is a range of directions, ends included (radians). Azimuth runs anticlockwise from AzimuthMin to AzimuthMax, so
// that 150° to -150° is the arc through straight behind; ends a full turn apart mean any azimuth. At elevation ±90°
// azimuth has no meaning and does not count.
type Sector struct {
	AzimuthMin, AzimuthMax     float64
	ElevationMin, ElevationMax float64
}

// About is the sector within the given tolerances of a direction. Elevation stops at straight up and down; about these
// two azimuth does not count.
func About(d Direction, azimuth, elevation float64) Sector {
	if azimuth >= math.Pi || math.Abs(d.Elevation) >= math.Pi/2-vertical {
		d.Azimuth, azimuth = 0, math.Pi
	}
	return Sector{
		AzimuthMin: d.Azimuth - azimuth, AzimuthMax: d.Azimuth + azimuth,
		ElevationMin: math.Max(d.Elevation-elevation, -math.Pi/2), ElevationMax: math.Min(d.Elevation+elevation, math.Pi/2),
	}
}

// width is the sector's range of azimuth in [0, 2π].
func (s Sector) width() float64 {
	w := s.AzimuthMax - s.AzimuthMin
	if w >= 2*math.Pi-whole {
		return 2 * math.Pi
	}
	w = math.Mod(w, 2*math.Pi)
	if w < 0 {
		w += 2 * math.Pi
	}
	return w
}

// Contains tells whether a direction lies in the sector.
func (s Sector) Contains(d Direction) bool {
	if d.Elevation < s.ElevationMin || d.Elevation > s.ElevationMax {
		return false
	}
	width := s.width()
	if width >= 2*math.Pi || math.Abs(d.Elevation) >= math.Pi/2-vertical {
		return true
	}
	from := math.Mod(d.Azimuth-s.AzimuthMin, 2*math.Pi)
	if from < 0 {
		from += 2 * math.Pi
	}
	return from <= width
}

func (s Sector) check(field string) error {
	if err := finite(field, s.AzimuthMin, s.AzimuthMax, s.ElevationMin, s.ElevationMax); err != nil {
		return err
	}
	if s.ElevationMin > s.ElevationMax {
		return fmt.Errorf("%w: %s: read elevation %v to %v, want the lower first", ErrNumber, field, s.ElevationMin, s.ElevationMax)
	}
	return nil
}
