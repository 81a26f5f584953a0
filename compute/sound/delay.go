package sound

import (
	"cmp"
	"fmt"
	"math"
)

// maxChannels is the longest list of channels: above the 24 of the largest layout in ITU-R BS.2051, and short enough that
// the search for swaps, which grows with the fifth power, stays within milliseconds.
const maxChannels = 32

// TravelTime is the time in seconds that sound takes for a distance in metres at a speed in metres a second, d/c.
// The error is [ErrInput].
func TravelTime(distance, speed float64) (float64, error) {
	if err := cmp.Or(inRange("distance", distance, 0, maxDistance, "m"), speedIn(speed)); err != nil {
		return 0, err
	}
	return distance / speed, nil
}

// Wavelength is c/f in metres, for f in hertz and c in metres a second. The error is [ErrInput].
func Wavelength(frequency, speed float64) (float64, error) {
	if err := cmp.Or(frequencyIn("frequency", frequency), speedIn(speed)); err != nil {
		return 0, err
	}
	return speed / frequency, nil
}

// Delays are the delays in seconds that make sound from loudspeakers at the given distances in metres arrive together with
// that of the farthest: delay_i = (max d - d_i)/c. The farthest has none, and a larger distance means less delay: raising
// the distance setting of a channel makes it sound earlier. Filters of a bass chain delay too, which geometry cannot
// know; confirm a subwoofer at the crossover frequency.
//
// The error is [ErrInput], or [ErrList] for none or more than 32 distances.
func Delays(distances []float64, speed float64) ([]float64, error) {
	if err := speedIn(speed); err != nil {
		return nil, err
	}
	if err := listLength("distances", len(distances)); err != nil {
		return nil, err
	}
	farthest := 0.0
	for i, d := range distances {
		if err := inRange(fmt.Sprintf("distance %d", i+1), d, 0, maxDistance, "m"); err != nil {
			return nil, err
		}
		farthest = max(farthest, d)
	}
	delays := make([]float64, len(distances))
	for i, d := range distances {
		delays[i] = (farthest - d) / speed
	}
	return delays, nil
}

// Samples is the whole number of samples nearest to a delay in seconds at a sampling rate in hertz; halves count as one
// more. The error is [ErrInput].
func Samples(delay, rate float64) (int, error) {
	if err := cmp.Or(inRange("delay", delay, 0, maxDelay, "s"), frequencyIn("sampling rate", rate)); err != nil {
		return 0, err
	}
	return int(math.Round(delay * rate)), nil
}

// DelayPhase is the phase in radians by which a delay in seconds lags at a frequency in hertz, 2 pi f t, not reduced to a
// turn. The error is [ErrInput].
func DelayPhase(delay, frequency float64) (float64, error) {
	if err := cmp.Or(inRange("delay", delay, 0, maxDelay, "s"), frequencyIn("frequency", frequency)); err != nil {
		return 0, err
	}
	return 2 * math.Pi * frequency * delay, nil
}

// FlipDelay is the delay in seconds that equals a reversed polarity at a frequency in hertz, and there only: 1/(2f).
// A polarity switch acts on all frequencies alike. The error is [ErrInput].
func FlipDelay(frequency float64) (float64, error) {
	if err := frequencyIn("frequency", frequency); err != nil {
		return 0, err
	}
	return 1 / (2 * frequency), nil
}

// listLength refuses an empty list and one longer than [maxChannels].
func listLength(field string, n int) error {
	if n >= 1 && n <= maxChannels {
		return nil
	}
	return fmt.Errorf("%w: %s: read %d, want 1 to %d", ErrList, field, n, maxChannels)
}
