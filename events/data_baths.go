package events

// BathMixedData is one mixing, ready in its tray. TimeS is the nominal time at TempC; SecondExposureS, of a bleach, the second
// exposure that the maker of its reversal process gives.
type BathMixedData struct {
	_               struct{} `is:"stream=bath"`
	Bath            string   `json:"bath,omitempty" is:"name=bath default=next-bath"`
	Role            string   `json:"role" is:"one=developer|stop|fixer|water|washing-aid|toner|bleach|clearing-bath"`
	Name            string   `json:"name" is:"text"`
	VolumeML        float64  `json:"volume_ml" is:"num >0 <=1000000"`
	Dilution        string   `json:"dilution,omitempty" is:"dilution"`
	TimeS           *float64 `json:"time_s,omitempty" is:"num >0 <=86400"`
	TempC           *float64 `json:"temp_c,omitempty" is:"num >=-10 <=100"`
	Q10             *float64 `json:"q10,omitempty" is:"num >=1 <=10"`
	CapacityM2      *float64 `json:"capacity_m2,omitempty" is:"num >0 <=100000"`
	LifeH           *float64 `json:"life_h,omitempty" is:"num >0 <=1000000"`
	BottleDays      *float64 `json:"bottle_days,omitempty" is:"num >0 <=100000"`
	Expires         string   `json:"expires,omitempty" is:"date"`
	Cost            *float64 `json:"cost,omitempty" is:"num >=0 <=1000000000"`
	Currency        string   `json:"currency,omitempty" is:"currency"`
	SecondExposureS *float64 `json:"second_exposure_s,omitempty" is:"num >0 <=86400"`
	Text            string   `json:"text,omitempty" is:"text"`
	Carried
}

// BathMovedData says where a bath stands. Only hours in the tray count against its life there.
type BathMovedData struct {
	_    struct{} `is:"stream=bath"`
	Bath string   `json:"bath" is:"ref=bath"`
	To   string   `json:"to" is:"one=tray|bottle|carried"`
	Text string   `json:"text,omitempty" is:"text"`
	Carried
}

// BathReplenishedData adds to a bath. Water brings no capacity.
type BathReplenishedData struct {
	_          struct{} `is:"stream=bath"`
	Bath       string   `json:"bath" is:"ref=bath"`
	VolumeML   float64  `json:"volume_ml" is:"num >0 <=1000000"`
	With       string   `json:"with" is:"one=water|fresh|replenisher"`
	CapacityM2 *float64 `json:"capacity_m2,omitempty" is:"num >0 <=100000"`
	Text       string   `json:"text,omitempty" is:"text"`
	Carried
}

// BathTestedData is one measurement on a bath: a temperature in °C, a clearing time or a time of appearance in seconds, the
// reading of a strip, a stain.
type BathTestedData struct {
	_     struct{} `is:"stream=bath"`
	Bath  string   `json:"bath" is:"ref=bath"`
	Test  string   `json:"test" is:"one=temperature|clearing-time|silver-strip|test-strip|time-of-appearance|stain"`
	Value float64  `json:"value" is:"num >=-1000000 <=1000000"`
	Unit  string   `json:"unit,omitempty" is:"word"`
	Text  string   `json:"text,omitempty" is:"text"`
	Carried
}

// BathDiscardedData ends a bath and says where it went.
type BathDiscardedData struct {
	_    struct{} `is:"stream=bath"`
	Bath string   `json:"bath" is:"ref=bath"`
	To   string   `json:"to,omitempty" is:"text"`
	Text string   `json:"text,omitempty" is:"text"`
	Carried
}

func (BathMixedData) Kind() Kind       { return BathMixed }
func (BathMovedData) Kind() Kind       { return BathMoved }
func (BathReplenishedData) Kind() Kind { return BathReplenished }
func (BathTestedData) Kind() Kind      { return BathTested }
func (BathDiscardedData) Kind() Kind   { return BathDiscarded }
