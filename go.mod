module nightfloor

go 1.26
