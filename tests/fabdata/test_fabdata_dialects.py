"""Placement files in the dialects of languages and programs, all invented: one board, read the same from each."""

from __future__ import annotations

import pytest

from landwise.fabdata.placements import read_placements

DIALECTS = {
    "decimal comma, side marks of one letter": "Designator;Mid X;Mid Y;Rotation;Layer\n"
    "U1;10,5;20,25;90;T\nR1;5,0;6,0;0;m\n",
    "byte-order mark, CRLF, units beside": "\ufeffDesignator,Mid X,Mid Y,Layer,Rotation\r\n"
    "U1,10.5mm,20.25mm,TopLayer,90\r\nR1,5mm,6mm,BottomLayer,0\r\n",
    "micrometres in the heading": "Ref,X(um),Y(um),Rot,Side\nU1,10500,20250,90,top\nR1,5000,6000,0,b\n",
    "french": "Repère;X;Y;Angle;Face\nU1;10,5;20,25;90;Dessus\nR1;5;6;0;Dessous\n",
    "italian": "Riferimento;X;Y;Angolo;Lato\nU1;10,5;20,25;90;Sopra\nR1;5;6;0;Sotto\n",
    "german": "Bauteil\tX [mm]\tY [mm]\tDrehung\tSeite\nU1\t10,500\t20,250\t90,0\tOben\nR1\t5,0\t6,0\t0,0\tUnten\n",
    "mirrored yes": "Ref,X,Y,Rotation,Mirrored\nU1,10.5,20.25,90,0\nR1,5,6,0,1\n",
    "mirrored true": "Ref,X,Y,Rotation,Mirror\nU1,10.5,20.25,90,False\nR1,5,6,0,True\n",
    "mirrored rotation": "Part,Value,Package,X,Y,Orientation\nU1,a,SO14,10.5,20.25,R90\nR1,b,0603,5,6,MR0\n",
    "layers by number": "ref,x,y,theta,layer\nU1,10.5,20.25,90,1\nR1,5,6,0,2\n",
    "no header, decimal commas between blanks": "U1 10,50 20,25 90 t SO14 74HC00\nR1 5,00 6,00 0 b 0603 10k\n",
    "no header, semicolons": "U1;10,50;20,25;90;t;SO14;74HC00\nR1;5,00;6,00;0;bottom;0603;10k\n",
}


@pytest.mark.parametrize("name", DIALECTS)
def test_dialects_of_placement_files(tmp_path, name):
    path = tmp_path / "places.txt"
    path.write_bytes(DIALECTS[name].encode())
    found = read_placements(path).by_reference
    assert (found["U1"].x_mm, found["U1"].y_mm, found["U1"].rotation_deg) == pytest.approx((10.5, 20.25, 90.0))
    assert (found["R1"].x_mm, found["R1"].y_mm) == pytest.approx((5.0, 6.0))
    assert (found["U1"].side, found["R1"].side) == ("top", "bottom")


def test_thousands_are_parted_only_where_the_other_mark_follows(tmp_path):
    path = tmp_path / "places.csv"
    path.write_text("Ref;X mil;Y mil;Rot;Side\nU1;1.010,5;20,25;0;top\nR1;1.250;6,0;0;top\n", encoding="utf-8")
    found = read_placements(path).by_reference
    assert found["U1"].x_mm == pytest.approx(1010.5 * 0.0254)
    assert found["R1"].x_mm == pytest.approx(1.25 * 0.0254)
