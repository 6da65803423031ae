"""What earlier runs saw: results compared, what a radio holds already, growth and forecast."""
