"""The track record: forecasts made again from past days, held against what came true."""
