package config

// readOut reads whether a probe is a stand-alone logger, whose file a person brings now and
// then: it publishes nothing, and its silence is no alarm.
func readOut(t *table) bool {
	if !t.yes("read_out") {
		return false
	}
	t.foreign("is of a probe that publishes, and read_out = true says that this one does not", "topic", "id", "id_at", "protocol", "metric", "value", "each",
		"time", "time_format", "time_zone", "backfill", "unit", "unit_at", "scale", "offset", "decimal", "words", "sensor", "missing", "battery", "battery_unit", "battery_low", "signal", "signal_unit", "signal_low")
	return true
}
