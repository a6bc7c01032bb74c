"""From an instrument index to sheets of a plant: tables read, columns mapped, sheets written.

``tables`` reads CSV and spreadsheets, ``headings`` finds the columns, ``mapping`` says what they
mean, ``cells`` understands a cell, ``wanted`` makes of a row what its sheet is to say, ``compose``
writes it as text, ``handwork`` keeps off what was edited by hand, ``importing`` does it all.
"""
