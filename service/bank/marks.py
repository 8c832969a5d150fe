"""What a straw must say, and how its day of collection is written on it.

Commission Delegated Regulation (EU) 2020/686, Article 10 (OJ L 174, 2020): each straw lets one
readily establish the date of collection, the species and the identity of the donor, and the
approval number of the establishment of collection, processing and storage.
"""

#: What the regulation names; a station may ask for more.
REQUIRED = ("collected_on", "species", "donor_identity", "approval_number")

#: How the species is written unless the station writes it otherwise (common practice, no source).
SPECIES = "EQUINE"
