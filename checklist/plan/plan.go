package plan

// Format is the only document format this package reads and writes.
const Format = "hangtrue-plan/1"

// A Plan is the whole document: the room as surveyed, the gear, and where each
// loudspeaker goes. All quantities are SI: metres, radians, kilograms, ohms,
// watts, decibels. The JSON keys carry the unit, and a key that ends in `_m`
// also accepts what a tape says ("1254 mm", `4' 1 3/8"`); one that ends in
// `_deg` is degrees in the document and radians here.
type Plan struct {
	Format      string       `json:"format"`
	Title       string       `json:"title"`
	Remark      string       `json:"remark,omitempty"`
	Units       Units        `json:"units"`
	Layout      string       `json:"layout"`
	Room        Room         `json:"room"`
	Survey      *Survey      `json:"survey,omitempty"`
	Listening   []Listening  `json:"listening_positions"`
	Models      []Model      `json:"loudspeakers"`
	Brackets    []Bracket    `json:"brackets"`
	Fixings     []Fixing     `json:"fixings"`
	Cables      []Cable      `json:"cables"`
	Processor   Processor    `json:"processor"`
	Amplifiers  []Amplifier  `json:"amplifiers"`
	Rack        Rack         `json:"rack"`
	Sound       *Sound       `json:"sound,omitempty"`
	Instruments []Instrument `json:"instruments"`
	Tolerances  Tolerances   `json:"tolerances"`
	Mounts      []Mount      `json:"mounts"`
}

// Units is how lengths are shown: "metric" or "imperial". Both are read everywhere.
type Units string

const (
	Metric   Units = "metric"
	Imperial Units = "imperial"
)

// A Room is a box, or a list of surfaces, or a box with shapes and surfaces added
// to it. With a box, a surface named front, right, rear, left, ceiling or floor, or
// one that a shape makes, gives details of that surface and needs no frame of its own.
type Room struct {
	Box      *Box      `json:"box,omitempty"`
	Shapes   []Shape   `json:"shapes,omitempty"`
	Surfaces []Surface `json:"surfaces,omitempty"`
}

// A Box is measured inside: width along x, length along y, height along z.
type Box struct {
	Width  float64 `json:"width_m"`
	Length float64 `json:"length_m"`
	Height float64 `json:"height_m"`
}

// A Shape is what makes a box room other than a box; see shapes.go for the surfaces
// it makes and their names. Wall is the side of the box it belongs to: front, right,
// rear or left. Along counts from that wall's left corner as seen from inside, Up
// from the floor. Which sizes a kind has:
//
//	slope   Knee, Reach: the ceiling slopes down along the whole wall, to the height
//	        Knee at the wall; from Reach into the room on it is flat again
//	breast  Along, Width, Depth, Height: a chimney breast, pier or boxed-in pipe that
//	        stands out from the wall; up to the ceiling where Height is left out
//	column  Along, Off, Width, Depth, Height: the same, its back Off from the wall
//	alcove  Along, Up, Width, Height, Depth: a niche in the wall
type Shape struct {
	Name   string  `json:"name"`
	Kind   string  `json:"kind"`
	Wall   string  `json:"wall"`
	Along  float64 `json:"along_m,omitempty"`
	Up     float64 `json:"up_m,omitempty"`
	Off    float64 `json:"off_m,omitempty"`
	Width  float64 `json:"width_m,omitempty"`
	Height float64 `json:"height_m,omitempty"`
	Depth  float64 `json:"depth_m,omitempty"`
	Knee   float64 `json:"knee_m,omitempty"`
	Reach  float64 `json:"reach_m,omitempty"`
}

// Kinds of shape.
const (
	Slope  = "slope"
	Breast = "breast"
	Column = "column"
	Alcove = "alcove"
)

// ShapeKinds are the kinds of shape a room may have.
var ShapeKinds = []string{Slope, Breast, Column, Alcove}

// A Surface is a plane with tape coordinates: along from its datum corner, up
// from its datum edge. Along × up points into the room.
type Surface struct {
	Name         string       `json:"name"`
	Frame        *Frame       `json:"frame,omitempty"`
	Openings     []Area       `json:"openings,omitempty"`
	KeepOuts     []Area       `json:"keep_outs,omitempty"`
	Lining       float64      `json:"lining_m,omitempty"`
	Construction Construction `json:"construction"`
}

// A Frame places a surface that is not a side of the box.
type Frame struct {
	Origin  [3]float64   `json:"origin_m"`
	Along   [3]float64   `json:"along"`
	Up      [3]float64   `json:"up"`
	Outline [][2]float64 `json:"outline_m"`
}

// An Area is a rectangle in tape coordinates: an opening (door, window) or a
// keep-out (a known pipe or cable) with the clearance to keep around it.
type Area struct {
	Name      string  `json:"name"`
	Along     float64 `json:"along_m"`
	Up        float64 `json:"up_m"`
	Width     float64 `json:"width_m"`
	Height    float64 `json:"height_m"`
	Clearance float64 `json:"clearance_m,omitempty"`
}

// A Construction says what is behind the lining. Kind is "studs", "masonry",
// "concrete" or "other". For studs (and joists) the members stand at
// First + n·Spacing, counted along the surface, or up it when Across is true.
// Found lists centres found on site; each replaces the regular one nearest to it.
type Construction struct {
	Kind    string    `json:"kind"`
	Spacing float64   `json:"spacing_m,omitempty"`
	First   float64   `json:"first_m,omitempty"`
	Width   float64   `json:"width_m,omitempty"`
	Depth   float64   `json:"depth_m,omitempty"`
	Across  bool      `json:"across,omitempty"`
	Species string    `json:"species,omitempty"`
	Found   []float64 `json:"found_m,omitempty"`
}

// A Listening position: the ear point in the room frame and where the listener
// faces (azimuth in the room frame, 0 = front, positive left). EarU is the
// standard uncertainty of each coordinate of the ear point.
type Listening struct {
	Name    string     `json:"name"`
	Ear     [3]float64 `json:"ear_m"`
	Facing  float64    `json:"facing_deg"`
	EarU    float64    `json:"ear_u_m"`
	Primary bool       `json:"primary,omitempty"`
}

// A Model is a loudspeaker type. Reach is the distance from the bracket's pivot
// to the acoustic centre along the axis; AxisRight and AxisUp shift the acoustic
// axis as seen from behind the cabinet. CentreOut is the distance from the pivot
// to the centre of mass. Sensitivity is dB at 1 m for 2.83 V. An Active one has
// its own amplifier: Power is that one's, and impedances, sensitivity and bridges
// are left out.
type Model struct {
	Name              string   `json:"name"`
	Kind              string   `json:"kind"` // "loudspeaker" or "subwoofer"
	Mass              float64  `json:"mass_kg"`
	Size              Size     `json:"size"`
	Reach             float64  `json:"reach_m"`
	AxisRight         float64  `json:"axis_right_m,omitempty"`
	AxisUp            float64  `json:"axis_up_m,omitempty"`
	CentreOut         float64  `json:"centre_of_mass_out_m"`
	Active            bool     `json:"active,omitempty"`
	Sensitivity       float64  `json:"sensitivity_db,omitempty"`
	Power             float64  `json:"power_w"`
	RatedImpedance    float64  `json:"rated_impedance_ohm,omitempty"`
	LeastImpedance    float64  `json:"least_impedance_ohm,omitempty"`
	GreatestImpedance float64  `json:"greatest_impedance_ohm,omitempty"`
	Bridges           []Bridge `json:"driver_bridges,omitempty"`
}

// Size is the outside of a cabinet.
type Size struct {
	Width  float64 `json:"width_m"`
	Height float64 `json:"height_m"`
	Depth  float64 `json:"depth_m"`
}

// A Bridge is one setting of the links on the back and the load it makes.
type Bridge struct {
	Setting        string  `json:"setting"` // "fitted" or "open", or the plan's own word
	Does           string  `json:"does"`
	RatedImpedance float64 `json:"rated_impedance_ohm"`
	LeastImpedance float64 `json:"least_impedance_ohm"`
}

// A Bracket model. Holes are relative to the reference hole. The pivot stands
// PivotOut from the surface, shifted by PivotAlong and PivotUp from the reference
// hole. Swing is positive towards along, tilt positive towards up; both are zero
// with the axis square to the surface. LowerEdge is how far the plate's lower
// edge lies below the reference hole: the edge it tilts about. SideEdge is how far
// it reaches beyond its outermost holes to either side; it matters overhead.
type Bracket struct {
	Name       string       `json:"name"`
	Mass       float64      `json:"mass_kg"`
	Holes      [][2]float64 `json:"holes_m"`
	PivotOut   float64      `json:"pivot_out_m"`
	PivotAlong float64      `json:"pivot_along_m,omitempty"`
	PivotUp    float64      `json:"pivot_up_m,omitempty"`
	SwingMin   float64      `json:"swing_min_deg"`
	SwingMax   float64      `json:"swing_max_deg"`
	TiltMin    float64      `json:"tilt_min_deg"`
	TiltMax    float64      `json:"tilt_max_deg"`
	RatedLoad  float64      `json:"rated_load_kg"`
	Plate      float64      `json:"plate_m"`
	LowerEdge  float64      `json:"lower_edge_m"`
	SideEdge   float64      `json:"side_edge_m,omitempty"`
}

// A Fixing is what goes through each hole. Kind is "wood screw", "lag screw",
// "plain nail" or "ring-shank nail" (screened by NDS 2018), "metric wood screw"
// (screened by Eurocode 5, the wood's strength class standing as its species), or
// "rated": a masonry or hollow-wall fixing whose maker's figure is RatedLoad.
//
// What the maker of a metric screw declares goes before the formula, and is needed
// where the formula does not hold: withdrawal strength in N/mm² at a density in
// kg/m³, core diameter, yield moment in N·mm.
type Fixing struct {
	Name      string  `json:"name"`
	Kind      string  `json:"kind"`
	Size      string  `json:"size,omitempty"` // "No. 10", "1/4 in", "10d", "6 mm"
	Length    float64 `json:"length_m"`
	Pilot     float64 `json:"pilot_m,omitempty"`
	RatedLoad float64 `json:"rated_load_n,omitempty"`
	Factor    float64 `json:"factor,omitempty"` // on RatedLoad, when that is a tested failure load
	Base      string  `json:"base,omitempty"`   // what the maker rates it for: "masonry", "concrete", "hollow wall"

	DeclaredWithdrawal float64 `json:"declared_withdrawal_n_mm2,omitempty"`
	DeclaredDensity    float64 `json:"declared_density_kg_m3,omitempty"`
	DeclaredCore       float64 `json:"declared_core_m,omitempty"`
	DeclaredYield      float64 `json:"declared_yield_moment_n_mm,omitempty"`
}

// A Cable type. Conductor is written "14 AWG" or "2.5 mm2 class 5".
type Cable struct {
	Name      string `json:"name"`
	Conductor string `json:"conductor"`
	InWall    string `json:"in_wall_marking,omitempty"`
}

// A Processor has numbered outputs, 1 to Outputs.
type Processor struct {
	Name      string  `json:"name"`
	Outputs   int     `json:"outputs"`
	RackUnits int     `json:"rack_units,omitempty"`
	Position  int     `json:"rack_position,omitempty"`
	Mass      float64 `json:"mass_kg,omitempty"`
	Heat      float64 `json:"heat_w,omitempty"`
	Mains     float64 `json:"mains_w,omitempty"`
}

// An Amplifier has numbered channels. Position is its lowest rack unit, counted
// from the bottom. Heat and Mains are the maker's figures at the stated duty;
// Efficiency is used only where they are missing.
type Amplifier struct {
	Name          string  `json:"name"`
	Channels      int     `json:"channels"`
	Power         float64 `json:"power_w"`
	LeastLoad     float64 `json:"least_load_ohm"`
	DampingFactor float64 `json:"damping_factor,omitempty"`
	RackUnits     int     `json:"rack_units"`
	Position      int     `json:"rack_position"`
	Mass          float64 `json:"mass_kg"`
	Heat          float64 `json:"heat_w,omitempty"`
	Mains         float64 `json:"mains_w,omitempty"`
	Efficiency    float64 `json:"efficiency,omitempty"`
}

// A Rack: its height in units, what it may carry, the circuit that feeds it and
// where its cables leave, in the room frame.
type Rack struct {
	Units          int        `json:"units"`
	RatedLoad      float64    `json:"rated_load_kg,omitempty"`
	Place          [3]float64 `json:"place_m"`
	Circuit        float64    `json:"circuit_a"`
	Voltage        float64    `json:"voltage_v"`
	ContinuousRule bool       `json:"continuous_load_rule,omitempty"` // the 80 % rule applies here
	Inlet          float64    `json:"inlet_c,omitempty"`
	Rise           float64    `json:"rise_k,omitempty"`
	Airflow        float64    `json:"airflow_m3_h,omitempty"`
}

// Sound is what the plan asks of level and bass; what is left out, or 0, is not
// asked. Temperature is that of the room's air, °C. Level is the peak level wanted
// at the primary listening position from each loudspeaker, dB. Crossover is where
// bass goes over to the subwoofers, Hz, with filters of Slope: "BW2", "LR2" or
// "LR4", as [sound.Slope] has them. BassBoost (dB, negative for a cut) raises what
// lies below BoostCorner (Hz) in the target curve.
type Sound struct {
	Temperature float64 `json:"temperature_c,omitempty"`
	Level       float64 `json:"level_db,omitempty"`
	Crossover   float64 `json:"crossover_hz,omitempty"`
	Slope       string  `json:"slope,omitempty"`
	BassBoost   float64 `json:"bass_boost_db,omitempty"`
	BoostCorner float64 `json:"boost_corner_hz,omitempty"`
}

// An Instrument. Kind is "tape", "laser", "level", "phone level" or "meter".
// Class is the tape's accuracy class. U is the standard uncertainty the maker or
// a check gives, in metres (laser), radians (level, phone level).
type Instrument struct {
	Name       string  `json:"name"`
	Kind       string  `json:"kind"`
	Class      string  `json:"class,omitempty"`
	Reading    float64 `json:"reading_u_m,omitempty"`
	Resolution float64 `json:"resolution_m,omitempty"`
	LengthU    float64 `json:"length_u_m,omitempty"`
	AngleU     float64 `json:"angle_u_deg,omitempty"`
	FromHook   bool    `json:"from_hook,omitempty"`
}

// Tolerances are the plan's own choice: no published document gives an
// installation tolerance for loudspeakers at fixed angles.
type Tolerances struct {
	Mark          float64 `json:"mark_m"`      // reference hole, along and up, each
	Level         float64 `json:"level_deg"`   // bracket line
	Azimuth       float64 `json:"azimuth_deg"` // of the acoustic centre from the planned direction
	Elevation     float64 `json:"elevation_deg"`
	Height        float64 `json:"height_m"`         // acoustic centre above the floor
	Distance      float64 `json:"distance_m"`       // ear point to acoustic centre
	Tilt          float64 `json:"tilt_deg"`         // cabinet
	Aim           float64 `json:"aim_deg"`          // axis past the ear point
	PairAzimuth   float64 `json:"pair_azimuth_deg"` // mirror difference
	PairHeight    float64 `json:"pair_height_m"`
	CableLoss     float64 `json:"cable_loss_percent"` // loop resistance against rated impedance
	EdgeClearance float64 `json:"edge_clearance_m"`   // hole to opening or edge
}

// A Mount is one channel's place: a model on a bracket whose reference hole goes
// at (Along, Up) on Surface. A mount without a bracket stands there instead.
type Mount struct {
	Channel    string  `json:"channel"`
	Model      string  `json:"loudspeaker"`
	Bracket    string  `json:"bracket,omitempty"`
	Surface    string  `json:"surface"`
	Along      float64 `json:"along_m"`
	Up         float64 `json:"up_m"`
	Stand      float64 `json:"stand_m,omitempty"`
	Fixing     string  `json:"fixing,omitempty"`
	Bridge     string  `json:"driver_bridge,omitempty"`
	Cable      string  `json:"cable"`
	Route      float64 `json:"route_m"` // one way, rack to loudspeaker
	Output     int     `json:"output"`
	Amplifier  string  `json:"amplifier,omitempty"` // none: an active loudspeaker fed from the output
	AmpChannel int     `json:"amplifier_channel,omitempty"`
	OffAngle   string  `json:"off_angle_reason,omitempty"`
	AimAt      string  `json:"aim_at,omitempty"` // listening position; the primary one if empty
}
