package events

// BookOpenedData begins a chain: the zone in which bare times are meant, and whose book it is, how the owner is reached and what
// may be done with the pictures.
type BookOpenedData struct {
	_       struct{} `is:"stream=book"`
	Zone    string   `json:"zone" is:"zone"`
	Owner   string   `json:"owner,omitempty" is:"text"`
	Contact string   `json:"contact,omitempty" is:"text"`
	Rights  string   `json:"rights,omitempty" is:"text"`
}

// BookSalvagedData says what a book saved from a damaged file holds and what is missing.
type BookSalvagedData struct {
	_       struct{} `is:"stream=book"`
	From    string   `json:"from" is:"text"`
	Head    string   `json:"head" is:"hex64"`
	Missing int      `json:"missing" is:"count >=0"`
	Text    string   `json:"text,omitempty" is:"text"`
}

// CameraDescribedData describes camera, lens and habits. The latest before an act holds.
type CameraDescribedData struct {
	_          struct{} `is:"stream=camera"`
	Camera     string   `json:"camera" is:"name=camera"`
	FocalMM    float64  `json:"focal_mm" is:"num >0 <=5000"`
	FWidest    float64  `json:"f_widest" is:"fnumber"`
	FSmallest  float64  `json:"f_smallest" is:"fnumber"`
	Lens       string   `json:"lens,omitempty" is:"text"`
	DrawMaxMM  *float64 `json:"draw_max_mm,omitempty" is:"num >0 <=20000"`
	PupilRatio *float64 `json:"pupil_ratio,omitempty" is:"num >0 <=10"`
	CocMM      *float64 `json:"coc_mm,omitempty" is:"num >0 <=10"`
	CircleMM   *float64 `json:"circle_mm,omitempty" is:"num >0 <=5000"`
	CapSDS     *float64 `json:"cap_sd_s,omitempty" is:"num >=0 <=10"`
	CapShare   *float64 `json:"cap_share,omitempty" is:"share >=0 <=1"`
	CapBiasS   *float64 `json:"cap_bias_s,omitempty" is:"num >=-10 <=10"`
	CopyM      *float64 `json:"copy_m,omitempty" is:"num >0 <=100"`
	CopyF      *float64 `json:"copy_f,omitempty" is:"fnumber"`
	Routine    []string `json:"routine,omitempty" is:"many=developer|stop|fixer|water|washing-aid|toner"`
	Text       string   `json:"text,omitempty" is:"text"`
}

// CameraCheckedData is one look at a part of the camera, at its meter or at the hand that works its cap.
type CameraCheckedData struct {
	_       struct{} `is:"stream=camera"`
	Camera  string   `json:"camera,omitempty" is:"ref=camera default=camera"`
	What    string   `json:"what" is:"one=light|rail|lens|holder|bellows|sleeve|safelight|copy-square|meter|cap"`
	Result  string   `json:"result" is:"one=good|bad"`
	Holder  string   `json:"holder,omitempty" is:"ref=holder"`
	Minutes *float64 `json:"minutes,omitempty" is:"minutes >=0 <=100000"`
	Text    string   `json:"text,omitempty" is:"text"`
	Session string   `json:"session,omitempty" is:"ref=session default=open-session optional"`
}

// SessionOpenedData begins one outing or one afternoon at one place.
type SessionOpenedData struct {
	_       struct{} `is:"stream=session"`
	Session string   `json:"session" is:"name=session"`
	Camera  string   `json:"camera,omitempty" is:"ref=camera default=camera optional"`
	Place   string   `json:"place,omitempty" is:"text"`
	Lat     *float64 `json:"lat,omitempty" is:"latitude >=-90 <=90"`
	Lon     *float64 `json:"lon,omitempty" is:"longitude >=-180 <=180"`
	Sky     string   `json:"sky,omitempty" is:"one=clear|thin|cloud|dark"`
	Light   string   `json:"light,omitempty" is:"one=sun|shade|overcast|dusk|lamp"`
	Helper  string   `json:"helper,omitempty" is:"text"`
	Text    string   `json:"text,omitempty" is:"text"`
}

// SessionClosedData ends it, and bottles the baths that stood in its trays.
type SessionClosedData struct {
	_       struct{} `is:"stream=session"`
	Session string   `json:"session,omitempty" is:"ref=session default=open-session"`
	Text    string   `json:"text,omitempty" is:"text"`
}

// PaperReceivedData brings a box of paper into stock. Variable contrast depends on filter and light; ISOR is then without a
// filter, under the enlarger's lamp.
type PaperReceivedData struct {
	_            struct{} `is:"stream=box"`
	Box          string   `json:"box,omitempty" is:"name=box default=next-box"`
	Name         string   `json:"name" is:"text"`
	Base         string   `json:"base" is:"one=rc|fb"`
	WidthMM      float64  `json:"width_mm" is:"num >0 <=5000"`
	HeightMM     float64  `json:"height_mm" is:"num >0 <=5000"`
	Sheets       int      `json:"sheets" is:"count >0 <=100000"`
	Index        *float64 `json:"index,omitempty" is:"num >0 <=100000"`
	Works        string   `json:"works,omitempty" is:"one=negative|direct-positive"`
	Surface      string   `json:"surface,omitempty" is:"text"`
	Contrast     string   `json:"contrast,omitempty" is:"one=graded|variable"`
	ISOP         *float64 `json:"iso_p,omitempty" is:"num >0 <=100000"`
	ISOR         *float64 `json:"iso_r,omitempty" is:"num >0 <=1000"`
	Dmin         *float64 `json:"dmin,omitempty" is:"num >=0 <=5"`
	Dmax         *float64 `json:"dmax,omitempty" is:"num >0 <=5"`
	ReciprocityP *float64 `json:"reciprocity_p,omitempty" is:"num >0 <=2"`
	DevelopS     *float64 `json:"develop_s,omitempty" is:"num >0 <=86400"`
	FixS         *float64 `json:"fix_s,omitempty" is:"num >0 <=86400"`
	Made         string   `json:"made,omitempty" is:"date"`
	Expires      string   `json:"expires,omitempty" is:"date"`
	Cost         *float64 `json:"cost,omitempty" is:"num >=0 <=1000000000"`
	Currency     string   `json:"currency,omitempty" is:"currency"`
	Text         string   `json:"text,omitempty" is:"text"`
	Carried
}

// PaperRatedData is what was measured of a box. The latest before an act that fits its generation, filter and
// light holds; earlier acts keep what they were made with. Unexposed is how a sheet came out that was developed and fixed
// straight from the box.
type PaperRatedData struct {
	_            struct{} `is:"stream=box"`
	Box          string   `json:"box,omitempty" is:"ref=box default=box-in-use"`
	Index        *float64 `json:"index,omitempty" is:"num >0 <=100000"`
	Generation   string   `json:"generation,omitempty" is:"one=negative|positive"`
	Filter       string   `json:"filter,omitempty" is:"word"`
	FilterFactor *float64 `json:"filter_factor,omitempty" is:"num >=1 <=100000"`
	Light        string   `json:"light,omitempty" is:"one=sun|shade|overcast|dusk|lamp"`
	ISOR         *float64 `json:"iso_r,omitempty" is:"num >0 <=1000"`
	ReciprocityP *float64 `json:"reciprocity_p,omitempty" is:"num >0 <=2"`
	DevelopS     *float64 `json:"develop_s,omitempty" is:"num >0 <=86400"`
	ThresholdS   *float64 `json:"threshold_s,omitempty" is:"num >0 <=86400"`
	Sheets       *int     `json:"sheets,omitempty" is:"count >=0 <=100000"`
	SDStops      *float64 `json:"sd_stops,omitempty" is:"num >=0 <=100"`
	Unexposed    string   `json:"unexposed,omitempty" is:"one=clean|grey|edges"`
	Evidence     string   `json:"evidence,omitempty" is:"text"`
	Text         string   `json:"text,omitempty" is:"text"`
	Carried
}

// PaperCountedData is a count of the sheets in a box; it overrules the calculation from then on.
type PaperCountedData struct {
	_      struct{} `is:"stream=box"`
	Box    string   `json:"box,omitempty" is:"ref=box default=box-in-use"`
	Sheets int      `json:"sheets" is:"count >=0 <=100000"`
	Text   string   `json:"text,omitempty" is:"text"`
	Carried
}

// PaperSpoiledData takes sheets out of stock that gave no picture.
type PaperSpoiledData struct {
	_      struct{} `is:"stream=box"`
	Box    string   `json:"box,omitempty" is:"ref=box default=box-in-use"`
	Sheets int      `json:"sheets" is:"count >0 <=100000"`
	Text   string   `json:"text,omitempty" is:"text"`
	Carried
}

// PaperCutData cuts sheets of one box into parts of another.
type PaperCutData struct {
	_        struct{} `is:"stream=box"`
	Box      string   `json:"box,omitempty" is:"ref=box default=box-in-use"`
	Sheets   int      `json:"sheets" is:"count >0 <=100000"`
	Into     string   `json:"into" is:"name=box"`
	Parts    int      `json:"parts" is:"count >0 <=1000"`
	WidthMM  float64  `json:"width_mm" is:"num >0 <=5000"`
	HeightMM float64  `json:"height_mm" is:"num >0 <=5000"`
	Text     string   `json:"text,omitempty" is:"text"`
	Carried
}

// HolderLoadedData puts sheets of a box into a holder.
type HolderLoadedData struct {
	_          struct{} `is:"stream=holder"`
	Holder     string   `json:"holder" is:"name=holder"`
	Box        string   `json:"box,omitempty" is:"ref=box default=box-in-use"`
	Sheets     *int     `json:"sheets,omitempty" is:"count >0 <=1000"`
	SafelightS *float64 `json:"safelight_s,omitempty" is:"num >=0 <=86400"`
	Text       string   `json:"text,omitempty" is:"text"`
	Carried
}

func (BookOpenedData) Kind() Kind      { return BookOpened }
func (BookSalvagedData) Kind() Kind    { return BookSalvaged }
func (CameraDescribedData) Kind() Kind { return CameraDescribed }
func (CameraCheckedData) Kind() Kind   { return CameraChecked }
func (SessionOpenedData) Kind() Kind   { return SessionOpened }
func (SessionClosedData) Kind() Kind   { return SessionClosed }
func (PaperReceivedData) Kind() Kind   { return PaperReceived }
func (PaperRatedData) Kind() Kind      { return PaperRated }
func (PaperCountedData) Kind() Kind    { return PaperCounted }
func (PaperSpoiledData) Kind() Kind    { return PaperSpoiled }
func (PaperCutData) Kind() Kind        { return PaperCut }
func (HolderLoadedData) Kind() Kind    { return HolderLoaded }
