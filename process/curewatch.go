package process

import "slices"

// findCureLeft reports how many hours are left by the user's rule, at the rate of the
// reference temperature; negative when it is past.
func (b *Batch) findCureLeft(found []Finding) []Finding {
	applies := b.Open() && b.Stage().Name == StageCure && b.cureLimit() > 0
	c, asked := b.cureClock(b.Now)
	known := asked && len(b.fridgeTracks(&Clock{}, StageCure)) > 0
	return b.report(found, MeasureCureLeft, applies, known, func() float64 { return 24 * (c.Limit - c.Sum) })
}

// findDryAir reports by how many points of humidity the room is outside the band of a
// drying stage.
func (b *Batch) findDryAir(found []Finding) []Finding {
	rule := b.Plan.Drying
	applies := b.Open() && rule.RHHigh > 0 && slices.Contains(rule.Stages, b.Stage().Name)
	t := b.fresh(b.TrackOf(Humidity))
	return b.report(found, MeasureRoomHumidity, applies, t != nil, func() float64 {
		return max(rule.RHLow-t.Last.Value, t.Last.Value-rule.RHHigh, 0)
	})
}
