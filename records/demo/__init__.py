"""The invented plant: three days at Quillbrook Creamery, built through the same actions as people use.

`building` makes it in the database that the settings name, `once` reports and hands out its signed sheets, `serving`
serves it. The scenario (`scenario`, `acts`, `answers`) is data; `walk` lets it happen.
"""
