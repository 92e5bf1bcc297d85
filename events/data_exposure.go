package events

// LightMeteredData is one reading of the meter: an aperture and time at an index, an exposure value at an index, lux,
// or candela per square metre. ZoneStops is where the tone that was read shall land, in stops from the mid-tone.
type LightMeteredData struct {
	_         struct{} `is:"stream=picture|session|book camera"`
	On        string   `json:"on" is:"one=scene|negative"`
	Mode      string   `json:"mode" is:"one=reflected|incident"`
	F         *float64 `json:"f,omitempty" is:"fnumber"`
	TimeS     *float64 `json:"time_s,omitempty" is:"num >0 <=86400"`
	EV        *float64 `json:"ev,omitempty" is:"num >=-30 <=40"`
	Index     *float64 `json:"index,omitempty" is:"num >0 <=100000"`
	Lux       *float64 `json:"lux,omitempty" is:"num >0 <=1000000000"`
	CdM2      *float64 `json:"cd_m2,omitempty" is:"num >0 <=1000000000"`
	Picture   string   `json:"picture,omitempty" is:"ref=picture"`
	Of        string   `json:"of,omitempty" is:"one=average|mid|shadow|light|lightest|darkest|card"`
	ZoneStops *float64 `json:"zone_stops,omitempty" is:"stops >=-20 <=20"`
	Light     string   `json:"light,omitempty" is:"one=sun|shade|overcast|dusk|lamp"`
	Filter    string   `json:"filter,omitempty" is:"word"`
	Text      string   `json:"text,omitempty" is:"text"`
	Carried
}

// SheetExposedData is one exposure of a negative. TimeS is what was done; PlannedF and PlannedS what was meant; SubjectMM is
// lens to subject, ExtensionMM from the infinity mark, FocusedMM the subject distance the rail was set for.
type SheetExposedData struct {
	_            struct{} `is:"stream=picture camera"`
	Picture      string   `json:"picture,omitempty" is:"name=picture default=next-picture"`
	Box          string   `json:"box,omitempty" is:"ref=box default=box-in-use"`
	F            float64  `json:"f" is:"fnumber"`
	TimeS        float64  `json:"time_s" is:"num >0 <=86400"`
	Sheet        string   `json:"sheet,omitempty" is:"sheet default=negative"`
	Reading      string   `json:"reading,omitempty" is:"entry default=serving-reading optional"`
	PlannedF     *float64 `json:"planned_f,omitempty" is:"fnumber"`
	PlannedS     *float64 `json:"planned_s,omitempty" is:"num >0 <=86400"`
	PlannedBox   string   `json:"planned_box,omitempty" is:"ref=box"`
	SubjectMM    *float64 `json:"subject_mm,omitempty" is:"num >0 <=10000000000"`
	NearMM       *float64 `json:"near_mm,omitempty" is:"num >0 <=10000000000"`
	FarMM        *float64 `json:"far_mm,omitempty" is:"num >0 <=10000000000"`
	ExtensionMM  *float64 `json:"extension_mm,omitempty" is:"num >=0 <=20000"`
	FocusedMM    *float64 `json:"focused_mm,omitempty" is:"num >0 <=10000000000"`
	Filter       string   `json:"filter,omitempty" is:"word"`
	FilterFactor *float64 `json:"filter_factor,omitempty" is:"num >=1 <=100000"`
	PreFlashS    *float64 `json:"pre_flash_s,omitempty" is:"num >=0 <=86400"`
	PreFlash     *float64 `json:"pre_flash,omitempty" is:"share >=0 <=100"`
	Flare        *float64 `json:"flare,omitempty" is:"share >=0 <=1"`
	Motion       string   `json:"motion,omitempty" is:"one=rest|seated|standing|child|walking|afloat"`
	MotionMMS    *float64 `json:"motion_mm_s,omitempty" is:"num >=0 <=1000000"`
	Light        string   `json:"light,omitempty" is:"one=sun|shade|overcast|dusk|lamp"`
	Holder       string   `json:"holder,omitempty" is:"ref=holder"`
	Part         *float64 `json:"part,omitempty" is:"share >0 <=1"`
	Again        string   `json:"again,omitempty" is:"ref=picture"`
	Subject      string   `json:"subject,omitempty" is:"text"`
	Sitter       string   `json:"sitter,omitempty" is:"sitter amendable"`
	Text         string   `json:"text,omitempty" is:"text"`
	Clock        string   `json:"clock,omitempty" is:"entry clocked"`
	Timed        string   `json:"timed,omitempty" is:"one=planned|measured clocked"`
	Carried
}

// SheetReprintedData is one print from a negative: photographed again in the camera, in contact, or enlarged.
// Magnification is print over negative.
type SheetReprintedData struct {
	_             struct{} `is:"stream=picture camera"`
	Picture       string   `json:"picture,omitempty" is:"ref=picture default=newest-negative"`
	Box           string   `json:"box,omitempty" is:"ref=box default=box-in-use"`
	TimeS         float64  `json:"time_s" is:"num >0 <=86400"`
	F             *float64 `json:"f,omitempty" is:"fnumber"`
	Sheet         string   `json:"sheet,omitempty" is:"sheet default=next-print"`
	Way           string   `json:"way,omitempty" is:"one=camera|contact|enlarger"`
	Reading       string   `json:"reading,omitempty" is:"entry default=serving-reading optional"`
	PlannedF      *float64 `json:"planned_f,omitempty" is:"fnumber"`
	PlannedS      *float64 `json:"planned_s,omitempty" is:"num >0 <=86400"`
	Magnification *float64 `json:"magnification,omitempty" is:"num >0 <=1000"`
	ExtensionMM   *float64 `json:"extension_mm,omitempty" is:"num >=0 <=20000"`
	Filter        string   `json:"filter,omitempty" is:"word"`
	FilterFactor  *float64 `json:"filter_factor,omitempty" is:"num >=1 <=100000"`
	PreFlashS     *float64 `json:"pre_flash_s,omitempty" is:"num >=0 <=86400"`
	PreFlash      *float64 `json:"pre_flash,omitempty" is:"share >=0 <=100"`
	Holder        string   `json:"holder,omitempty" is:"ref=holder"`
	Part          *float64 `json:"part,omitempty" is:"share >0 <=1"`
	Text          string   `json:"text,omitempty" is:"text"`
	Clock         string   `json:"clock,omitempty" is:"entry clocked"`
	Timed         string   `json:"timed,omitempty" is:"one=planned|measured clocked"`
	Carried
}

// StripExposedData is a test strip: TimesS are each step's total.
type StripExposedData struct {
	_             struct{}  `is:"stream=strip camera"`
	Strip         string    `json:"strip" is:"name=strip"`
	Box           string    `json:"box,omitempty" is:"ref=box default=box-in-use"`
	On            string    `json:"on" is:"one=scene|negative|pre-flash"`
	TimesS        []float64 `json:"times_s" is:"nums >0 <=86400"`
	F             *float64  `json:"f,omitempty" is:"fnumber"`
	Picture       string    `json:"picture,omitempty" is:"ref=picture"`
	Reading       string    `json:"reading,omitempty" is:"entry default=serving-reading optional"`
	Filter        string    `json:"filter,omitempty" is:"word"`
	Magnification *float64  `json:"magnification,omitempty" is:"num >0 <=1000"`
	Part          *float64  `json:"part,omitempty" is:"share >0 <=1"`
	Text          string    `json:"text,omitempty" is:"text"`
	Carried
}

// StripReadData is what the strip showed, steps counted from 1.
type StripReadData struct {
	_            struct{}  `is:"stream=strip"`
	Strip        string    `json:"strip" is:"ref=strip"`
	Bath         string    `json:"bath,omitempty" is:"ref=bath"`
	TimeS        *float64  `json:"time_s,omitempty" is:"num >0 <=86400"`
	TempC        *float64  `json:"temp_c,omitempty" is:"num >=-10 <=100"`
	Threshold    *int      `json:"threshold,omitempty" is:"count >=1 <=1000"`
	Best         *int      `json:"best,omitempty" is:"count >=1 <=1000"`
	MaximumBlack *int      `json:"maximum_black,omitempty" is:"count >=1 <=1000"`
	Densities    []float64 `json:"densities,omitempty" is:"nums >=0 <=5"`
	Text         string    `json:"text,omitempty" is:"text"`
	Carried
}

func (LightMeteredData) Kind() Kind   { return LightMetered }
func (SheetExposedData) Kind() Kind   { return SheetExposed }
func (SheetReprintedData) Kind() Kind { return SheetReprinted }
func (StripExposedData) Kind() Kind   { return StripExposed }
func (StripReadData) Kind() Kind      { return StripRead }
