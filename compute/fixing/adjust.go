package fixing

// A Duration is how long a load lasts, for NDS 2018.
type Duration int

// Durations of NDS 2018 Table 2.3.2. A hung loudspeaker is Permanent.
const (
	Permanent Duration = iota
	TenYears
	TwoMonths
	SevenDays
	TenMinutes
	Impact
)

// LoadDuration is C_D for connections: permanent 0.9, ten years 1.0, two months
// 1.15, seven days 1.25, ten minutes 1.6 (NDS 2018 Table 2.3.2). Impact is
// [ErrDuration]: §11.3.2 keeps it from connections.
func LoadDuration(d Duration) (float64, error) {
	switch d {
	case Permanent:
		return 0.9, nil
	case TenYears:
		return 1.0, nil
	case TwoMonths:
		return 1.15, nil
	case SevenDays:
		return 1.25, nil
	case TenMinutes:
		return 1.6, nil
	case Impact:
		return 0, bad(ErrDuration, "duration", "impact", "permanent to ten minutes")
	}
	return 0, badNumber(ErrUnknownKind, "duration", float64(d), "", "permanent to ten minutes")
}

// A Moisture is the state of the wood when the fixing went in and afterwards.
type Moisture int

const (
	// Dry wood, at most 19 % moisture, throughout.
	Dry Moisture = iota
	// WetThenDry wood was above 19 % when the fixing went in and dries later.
	WetThenDry
	// Wet wood stays above 19 %.
	Wet
)

// WetService is C_M for withdrawal and for lateral load of a fixing of nominal
// diameter D, m (NDS 2018 Table 11.3.3). Screws and lags in withdrawal: 1.0 in
// wood dry in service, 0.7 in wet. Lateral: dry 1.0; wet then dry 0.4, or 0.7
// under 1/4 in; wet 0.7. Nails in withdrawal: 1.0 dry, and 0.25 otherwise, the
// lower of the table's cases.
func WetService(kind Kind, diameter float64, m Moisture) (withdrawal, lateral float64, err error) {
	nail := kind == PlainNail || kind == RingNail
	switch m {
	case Dry:
		return 1, 1, nil
	case WetThenDry:
		withdrawal, lateral = 1, 0.4
		if inches(diameter) < 0.25 {
			lateral = 0.7
		}
	case Wet:
		withdrawal, lateral = 0.7, 0.7
	default:
		return 0, 0, badNumber(ErrUnknownKind, "base.moisture", float64(m), "", "Dry, WetThenDry or Wet")
	}
	if nail {
		withdrawal = 0.25
	}
	return withdrawal, lateral, nil
}

// TemperatureFactor is C_t for wood that stays at a temperature, °C (NDS 2018
// Table 11.3.4): 1.0 to 100 °F (37.8 °C), dry 0.8 and wet 0.7 to 125 °F
// (51.7 °C), dry 0.7 and wet 0.5 to 150 °F (65.6 °C), beyond [ErrTemperature].
func TemperatureFactor(celsius float64, m Moisture) (float64, error) {
	if err := within("base.temperature", celsius, 1000, "°C"); err != nil {
		return 0, err
	}
	fahrenheit := celsius*9/5 + 32
	wet := m != Dry
	switch {
	case fahrenheit <= 100+1e-6:
		return 1, nil
	case fahrenheit <= 125+1e-6 && wet:
		return 0.7, nil
	case fahrenheit <= 125+1e-6:
		return 0.8, nil
	case fahrenheit <= 150+1e-6 && wet:
		return 0.5, nil
	case fahrenheit <= 150+1e-6:
		return 0.7, nil
	}
	return 0, badNumber(ErrTemperature, "base.temperature", celsius, "°C", "at most 65.6 °C")
}

// EndGrain is C_eg for withdrawal and lateral load of a fixing driven into end
// grain: lag screws 0.75 and 0.67 (NDS 2018 §12.2.1.3, §12.5.2.2). Wood screws and
// nails may not be loaded in withdrawal there: 0 and 0.67 come with [ErrEndGrain]
// (§12.2.2.3, §12.2.3.3).
func EndGrain(kind Kind) (withdrawal, lateral float64, err error) {
	if kind != LagScrew {
		return 0, 0.67, bad(ErrEndGrain, "base.end_grain", kind.String(), "side grain, or a lag screw")
	}
	return 0.75, 0.67, nil
}
