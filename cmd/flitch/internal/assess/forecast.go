package assess

import (
	"fmt"
	"slices"
	"time"

	"flitch/process"
	"flitch/process/heat"
)

// A Forecast is when something was expected, as it looked at the time Made. No time
// is not today: the interval may be open to that side.
type Forecast struct {
	What string    `json:"what"`
	At   time.Time `json:"at,omitzero"`
	Low  time.Time `json:"low,omitzero"`
	High time.Time `json:"high,omitzero"`
	Made time.Time `json:"made"`
	Air  *float64  `json:"air,omitempty"` // of a chill: what it was made for, °C
}

// forecastEvery keeps the list of forecasts short.
const (
	forecastEvery     = 10 * time.Minute
	cookForecastEvery = 30 * time.Minute
	cureForecastEvery = 6 * time.Hour
)

// forecast notes when the running leg of the chill will end, the slowest core will be
// at its target, what is in the fridge will be at its limit, and now and then when the
// cure is likely through.
func (s *run) forecast() {
	if s.Now.Sub(s.forecasted) < forecastEvery {
		return
	}
	s.forecasted = s.Now
	s.forecastChill()
	if s.Now.Sub(s.cookForecasted) >= cookForecastEvery {
		s.forecastCook()
	}
	for _, p := range s.places {
		if e, ok := p.ProductEstimate(); ok && e.Reaches && e.Minutes > 0 {
			at := s.Now.Add(time.Duration(e.Minutes * float64(time.Minute)))
			s.note(fmt.Sprintf("product in the fridge at %.1f °C, by its air", e.LimitC), at, at, at)
		}
	}
	if s.Now.Sub(s.cureForecasted) < cureForecastEvery {
		return
	}
	for _, f := range s.batch.DryingForecasts() {
		s.cureForecasted = s.Now
		s.note("piece "+f.Piece+" dry enough by weight", f.At, f.Low, f.High)
	}
	if f, ok := s.batch.CureFinish(s.Now); ok {
		s.cureForecasted = s.Now
		s.note("cure likely through by diffusion", f.At, f.Low, f.High)
	}
}

func (s *run) note(what string, at, low, high time.Time) {
	s.forecasts = append(s.forecasts, Forecast{What: what, At: at.Truncate(time.Second), Low: low.Truncate(time.Second), High: high.Truncate(time.Second), Made: s.Now})
}

func (s *run) forecastCook() {
	if f, ok := s.cooks.Slowest(s.batch); ok {
		s.cookForecasted = s.Now
		s.note(fmt.Sprintf("core at %.1f °C", f.TargetC), f.At, f.Low, f.High)
	}
}

func (s *run) forecastChill() {
	f, ok := s.batch.ChillForecast(s.Now)
	if !ok {
		return
	}
	if f.Low.Equal(f.High) { // one time, far off, stands for never: the air is too warm
		f.At, f.Low, f.High = time.Time{}, time.Time{}, time.Time{}
	}
	s.note(process.ChillName(f.Leg)+" ends", f.At, f.Low, f.High)
	s.forecasts[len(s.forecasts)-1].Air = s.chillAir()
}

// chillAir is the air that the forecast of a chill is for: the median of what the probe
// around the core read in the window that the forecast looks at. Nil: not heard then.
func (s *run) chillAir() *float64 {
	t := s.batch.TrackOf(process.Ambient)
	if s.batch.Stage().Where != process.WhereRoom {
		product, air := s.batch.FridgeNow()
		if t = air; t == nil {
			t = product
		}
	}
	if t == nil {
		return nil
	}
	var read []float64
	for _, r := range t.Recent.Samples {
		if s.Now.Sub(r.At).Minutes() <= heat.WindowMin {
			read = append(read, r.Value)
		}
	}
	if len(read) == 0 {
		return nil
	}
	slices.Sort(read)
	return &read[len(read)/2]
}
