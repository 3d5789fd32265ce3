BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0002');
CREATE TABLE bed_hole (
	bed_key VARCHAR(200) NOT NULL, 
	label VARCHAR(200) NOT NULL, 
	x_mm FLOAT NOT NULL, 
	y_mm FLOAT NOT NULL, 
	usable BOOLEAN NOT NULL, 
	PRIMARY KEY (bed_key, label)
);
INSERT INTO "bed_hole" VALUES('long-bench','A1',0.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','B1',100.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','C1',200.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','D1',300.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','E1',400.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','F1',500.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','G1',600.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','H1',700.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','I1',800.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','J1',900.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','K1',1000.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','L1',1100.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','M1',1200.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','N1',1300.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','O1',1400.0,0.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','A2',0.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','B2',100.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','C2',200.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','D2',300.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','E2',400.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','F2',500.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','G2',600.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','H2',700.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','I2',800.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','J2',900.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','K2',1000.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','L2',1100.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','M2',1200.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','N2',1300.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','O2',1400.0,100.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','A3',0.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','B3',100.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','C3',200.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','D3',300.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','E3',400.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','F3',500.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','G3',600.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','H3',700.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','I3',800.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','J3',900.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','K3',1000.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','L3',1100.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','M3',1200.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','N3',1300.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','O3',1400.0,200.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','A4',0.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','B4',100.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','C4',200.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','D4',300.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','E4',400.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','F4',500.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','G4',600.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','H4',700.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','I4',800.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','J4',900.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','K4',1000.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','L4',1100.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','M4',1200.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','N4',1300.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','O4',1400.0,300.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','A5',0.0,400.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','B5',100.0,400.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','C5',200.0,400.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','D5',300.0,400.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','E5',400.0,400.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','F5',500.0,400.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','G5',600.0,400.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','H5',700.0,400.0,0);
INSERT INTO "bed_hole" VALUES('long-bench','I5',800.0,400.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','J5',900.0,400.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','K5',1000.0,400.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','L5',1100.0,400.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','M5',1200.0,400.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','N5',1300.0,400.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','O5',1400.0,400.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','A6',0.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','B6',100.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','C6',200.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','D6',300.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','E6',400.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','F6',500.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','G6',600.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','H6',700.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','I6',800.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','J6',900.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','K6',1000.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','L6',1100.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','M6',1200.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','N6',1300.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','O6',1400.0,500.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','A7',0.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','B7',100.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','C7',200.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','D7',300.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','E7',400.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','F7',500.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','G7',600.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','H7',700.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','I7',800.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','J7',900.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','K7',1000.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','L7',1100.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','M7',1200.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','N7',1300.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','O7',1400.0,600.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','A8',0.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','B8',100.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','C8',200.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','D8',300.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','E8',400.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','F8',500.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','G8',600.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','H8',700.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','I8',800.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','J8',900.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','K8',1000.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','L8',1100.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','M8',1200.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','N8',1300.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','O8',1400.0,700.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','A9',0.0,800.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','B9',100.0,800.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','C9',200.0,800.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','D9',300.0,800.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','E9',400.0,800.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','F9',500.0,800.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','G9',600.0,800.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','H9',700.0,800.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','I9',800.0,800.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','J9',900.0,800.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','K9',1000.0,800.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','L9',1100.0,800.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','M9',1200.0,800.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','N9',1300.0,800.0,1);
INSERT INTO "bed_hole" VALUES('long-bench','O9',1400.0,800.0,1);
CREATE TABLE change (
	id INTEGER NOT NULL, 
	at VARCHAR(40) NOT NULL, 
	who TEXT NOT NULL, 
	command TEXT NOT NULL, 
	why TEXT, 
	PRIMARY KEY (id)
);
INSERT INTO "change" VALUES(1,'2026-11-29T18:28:51.596354Z','founder','init',NULL);
INSERT INTO "change" VALUES(2,'2026-11-29T18:28:51.666374Z','founder','demo',NULL);
INSERT INTO "change" VALUES(3,'2026-11-29T18:28:51.769168Z','founder','demo',NULL);
INSERT INTO "change" VALUES(4,'2026-11-29T18:28:51.782208Z','founder','demo',NULL);
INSERT INTO "change" VALUES(5,'2026-11-29T18:28:55.025004Z','founder','load','own lines');
CREATE TABLE log (
	id INTEGER NOT NULL, 
	at VARCHAR(40) NOT NULL, 
	who TEXT NOT NULL, 
	event VARCHAR(20) NOT NULL, 
	station_key VARCHAR(200) NOT NULL, 
	nest VARCHAR(200) NOT NULL, 
	fingerprint VARCHAR(9) NOT NULL, 
	x_mm FLOAT NOT NULL, 
	y_mm FLOAT NOT NULL, 
	path TEXT NOT NULL, 
	after_change INTEGER NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(after_change) REFERENCES change (id)
);
INSERT INTO "log" VALUES(1,'2026-11-29T18:28:51.851869Z','founder','block','left','a','4CAB-28C7',295.0,185.0,'left-block.nc',4);
INSERT INTO "log" VALUES(2,'2026-11-29T18:28:52.033821Z','founder','sheet','end-bars','a','601C-1723',885.0,675.0,'sheets/end-bars.html',4);
INSERT INTO "log" VALUES(3,'2026-11-29T18:28:52.033821Z','founder','sheet','end-bars','b','50C4-5AF6',1075.0,675.0,'sheets/end-bars.html',4);
INSERT INTO "log" VALUES(4,'2026-11-29T18:28:52.033821Z','founder','sheet','left','a','4CAB-28C7',295.0,185.0,'sheets/left.html',4);
INSERT INTO "log" VALUES(5,'2026-11-29T18:28:52.033821Z','founder','sheet','right','a','1B54-A566',1330.0,190.0,'sheets/right.html',4);
INSERT INTO "log" VALUES(6,'2026-11-29T18:28:52.033821Z','founder','sheet','roof','a','C7EE-615E',566.0,561.0,'sheets/roof.html',4);
INSERT INTO "log" VALUES(7,'2026-11-29T18:28:52.033821Z','founder','sheet','spare','a','DD7D-072A',95.0,585.0,'sheets/spare.html',4);
INSERT INTO "log" VALUES(8,'2026-11-29T18:28:52.080665Z','founder','map','end-bars','a','601C-1723',885.0,675.0,'long-bench.html',4);
INSERT INTO "log" VALUES(9,'2026-11-29T18:28:52.080665Z','founder','map','end-bars','b','50C4-5AF6',1075.0,675.0,'long-bench.html',4);
INSERT INTO "log" VALUES(10,'2026-11-29T18:28:52.080665Z','founder','map','left','a','4CAB-28C7',295.0,185.0,'long-bench.html',4);
INSERT INTO "log" VALUES(11,'2026-11-29T18:28:52.080665Z','founder','map','right','a','1B54-A566',1330.0,190.0,'long-bench.html',4);
INSERT INTO "log" VALUES(12,'2026-11-29T18:28:52.080665Z','founder','map','roof','a','C7EE-615E',566.0,561.0,'long-bench.html',4);
INSERT INTO "log" VALUES(13,'2026-11-29T18:28:52.080665Z','founder','map','spare','a','DD7D-072A',95.0,585.0,'long-bench.html',4);
INSERT INTO "log" VALUES(14,'2026-11-29T18:28:53.694126Z','founder','stamp','left','a','4CAB-28C7',295.0,185.0,'left.nc',4);
INSERT INTO "log" VALUES(15,'2026-11-29T18:28:56.495591Z','founder','repeat','roof','a','C7EE-615E',566.0,561.0,'both.nc',5);
INSERT INTO "log" VALUES(16,'2026-11-29T18:28:56.495591Z','founder','repeat','shelf','a','9DA2-972A',866.0,61.0,'both.nc',5);
CREATE TABLE reference (
	kind VARCHAR(20) NOT NULL, 
	"key" VARCHAR(200) NOT NULL, 
	path VARCHAR(200) NOT NULL, 
	to_kind VARCHAR(20) NOT NULL, 
	to_key VARCHAR(200) NOT NULL, 
	PRIMARY KEY (kind, "key", path)
);
INSERT INTO "reference" VALUES('machine','gantry-1','dialect','dialect','ngc');
INSERT INTO "reference" VALUES('bed','long-bench','machine','machine','gantry-1');
INSERT INTO "reference" VALUES('station','left','bed','bed','long-bench');
INSERT INTO "reference" VALUES('station','left','pin','pin','peg-20');
INSERT INTO "reference" VALUES('station','left','jig','jig','panel-tray');
INSERT INTO "reference" VALUES('station','left','program','program','hand-hold');
INSERT INTO "reference" VALUES('station','right','bed','bed','long-bench');
INSERT INTO "reference" VALUES('station','right','pin','pin','peg-20');
INSERT INTO "reference" VALUES('station','right','jig','jig','panel-tray');
INSERT INTO "reference" VALUES('station','right','program','program','hand-hold-turned');
INSERT INTO "reference" VALUES('station','end-bars','bed','bed','long-bench');
INSERT INTO "reference" VALUES('station','end-bars','pin','pin','peg-20');
INSERT INTO "reference" VALUES('station','end-bars','jig','jig','end-bar-cradle');
INSERT INTO "reference" VALUES('station','end-bars','program','program','end-bar-notch');
INSERT INTO "reference" VALUES('station','roof','bed','bed','long-bench');
INSERT INTO "reference" VALUES('station','roof','pin','pin','peg-12');
INSERT INTO "reference" VALUES('station','roof','program','program','roof-groove');
INSERT INTO "reference" VALUES('run','monday-sides','stations[0]','station','left');
INSERT INTO "reference" VALUES('run','monday-sides','stations[1]','station','right');
INSERT INTO "reference" VALUES('station','spare','bed','bed','long-bench');
INSERT INTO "reference" VALUES('station','spare','pin','pin','peg-20');
INSERT INTO "reference" VALUES('station','spare','jig','jig','panel-tray');
INSERT INTO "reference" VALUES('station','spare','program','program','hand-hold');
INSERT INTO "reference" VALUES('run','three-sides','stations[0]','station','spare');
INSERT INTO "reference" VALUES('run','three-sides','stations[1]','station','left');
INSERT INTO "reference" VALUES('run','three-sides','stations[2]','station','right');
INSERT INTO "reference" VALUES('station','shelf','bed','bed','long-bench');
INSERT INTO "reference" VALUES('station','shelf','pin','pin','peg-12');
INSERT INTO "reference" VALUES('station','shelf','program','program','roof-groove');
INSERT INTO "reference" VALUES('machine','gantry-2','dialect','dialect','ngc-r');
INSERT INTO "reference" VALUES('machine','gantry-3','dialect','dialect','own');
CREATE TABLE registry (
	application VARCHAR(40) NOT NULL, 
	created_at VARCHAR(40) NOT NULL, 
	display_units VARCHAR(2) NOT NULL, 
	PRIMARY KEY (application)
);
INSERT INTO "registry" VALUES('pincorner','2026-11-29T18:28:51.586451Z','mm');
CREATE TABLE revision (
	kind VARCHAR(20) NOT NULL, 
	"key" VARCHAR(200) NOT NULL, 
	change_id INTEGER NOT NULL, 
	name VARCHAR(200) NOT NULL, 
	body TEXT, 
	PRIMARY KEY (kind, "key", change_id), 
	FOREIGN KEY(change_id) REFERENCES change (id)
);
INSERT INTO "revision" VALUES('dialect','ngc',1,'ngc','{"name":"ngc","work_offsets":["G54","G55","G56","G57","G58","G59","G59.1","G59.2","G59.3"],"expressions":true}');
INSERT INTO "revision" VALUES('dialect','ngc-r',1,'ngc-r','{"name":"ngc-r","work_offsets":["G54","G55","G56","G57","G58","G59","G59.1","G59.2","G59.3"],"rotation":"r-word","expressions":true}');
INSERT INTO "revision" VALUES('dialect','six',1,'six','{"name":"six","work_offsets":["G54","G55","G56","G57","G58","G59"],"converts":true}');
INSERT INTO "revision" VALUES('dialect','extended',1,'extended','{"name":"extended","work_offsets":["G54","G55","G56","G57","G58","G59","G54.1 P1","G54.1 P2","G54.1 P3","G54.1 P4","G54.1 P5","G54.1 P6","G54.1 P7","G54.1 P8","G54.1 P9","G54.1 P10","G54.1 P11","G54.1 P12","G54.1 P13","G54.1 P14","G54.1 P15","G54.1 P16","G54.1 P17","G54.1 P18","G54.1 P19","G54.1 P20","G54.1 P21","G54.1 P22","G54.1 P23","G54.1 P24","G54.1 P25","G54.1 P26","G54.1 P27","G54.1 P28","G54.1 P29","G54.1 P30","G54.1 P31","G54.1 P32","G54.1 P33","G54.1 P34","G54.1 P35","G54.1 P36","G54.1 P37","G54.1 P38","G54.1 P39","G54.1 P40","G54.1 P41","G54.1 P42","G54.1 P43","G54.1 P44","G54.1 P45","G54.1 P46","G54.1 P47","G54.1 P48"],"rotation":"g68","converts":true,"cancel":["G69","G52 X0 Y0 Z0"]}');
INSERT INTO "revision" VALUES('dialect','keyed',1,'keyed','{"name":"keyed","work_offsets":["G54","G55","G56","G57","G58","G59"],"write":"none","converts":true}');
INSERT INTO "revision" VALUES('machine','gantry-1',2,'gantry-1','{"name":"gantry-1","dialect":"ngc","travel":{"x":[0,1540],"y":[0,940],"z":[-190,0]},"repeatability":0.02,"homing":0.03,"touch_plate":19.05,"beam":"y","carriage":{"left":120,"right":120,"front":140,"back":140},"nose":64,"park":[0,940]}');
INSERT INTO "revision" VALUES('bed','long-bench',2,'long-bench','{"name":"long-bench","machine":"gantry-1","outline":{"from":[-50,-50],"to":[1450,850]},"thickness":36,"grid":{"columns":15,"rows":9,"pitch":[100,100],"hole":20.02,"hole_position":0.04,"depth":20},"pose":{"x":60,"y":55},"surface":-120,"spoil":0.5,"missing":["H5"],"tracks":[{"name":"T1","from":[-50,50],"to":[1450,50],"width":19,"depth":1},{"name":"T2","from":[-50,450],"to":[1450,450],"width":19,"depth":1},{"name":"T3","from":[-50,750],"to":[1450,750],"width":19,"depth":1}],"screws":[{"name":"S1","at":[0,150],"diameter":9,"depth":5},{"name":"S2","at":[1400,150],"diameter":9,"depth":5},{"name":"S3","at":[0,650],"diameter":9,"depth":5},{"name":"S4","at":[1400,650],"diameter":9,"depth":5}],"solids":[{"name":"setter","from":[1400,800],"to":[1440,840],"top":60}]}');
INSERT INTO "revision" VALUES('pin','peg-20',2,'peg-20','{"name":"peg-20","shank":20,"body":20,"height":22,"body_tolerance":0.01}');
INSERT INTO "revision" VALUES('pin','peg-12',2,'peg-12','{"name":"peg-12","shank":20,"body":12,"height":16,"body_tolerance":0.01,"fit":"H8/g6"}');
INSERT INTO "revision" VALUES('jig','panel-tray',2,'panel-tray','{"name":"panel-tray","footprint":[460,280],"seat":18,"height":40,"solids":[{"name":"toggle-1","from":[120,262],"to":[160,280],"top":55},{"name":"toggle-2","from":[300,262],"to":[340,280],"top":55}],"nests":[{"name":"a","zero":[25,20],"stock":{"size":[410,240,20]},"run_off":8}],"copies":3,"note":"Side panels of a hive body, hand-hold recess. Toggles at the back."}');
INSERT INTO "revision" VALUES('jig','end-bar-cradle',2,'end-bar-cradle','{"name":"end-bar-cradle","footprint":[440,200],"locate":{"round":{"at":[20,100],"hole":20.05},"slot":{"at":[420,100],"width":20.05,"travel":4}},"seat":24,"height":42,"nests":[{"name":"a","zero":[45,20],"stock":{"size":[160,160,28]},"run_off":7},{"name":"b","zero":[235,20],"stock":{"size":[160,160,28]},"run_off":7}],"note":"Two blanks that become frame end bars."}');
INSERT INTO "revision" VALUES('station','left',2,'left','{"name":"left","bed":"long-bench","jig":"panel-tray","pin":"peg-20","pins":{"edge":["D2","G2"],"stop":"C4"},"corner":"C2","toward":"+x+y","work_offsets":{"a":"G55"},"program":"hand-hold","clamps":[{"name":"c1","from":[215,-50],"to":[245,10],"top":35}],"note":"Recess faces the operator."}');
INSERT INTO "revision" VALUES('station','right',2,'right','{"name":"right","bed":"long-bench","jig":"panel-tray","pin":"peg-20","pins":{"edge":["N3","N6"],"stop":"L2"},"turn":90,"program_angle":90,"work_offsets":{"a":"G56"},"program":"hand-hold-turned","note":"The tray lies turned a quarter to the left, and so was the program posted."}');
INSERT INTO "revision" VALUES('station','end-bars',2,'end-bars','{"name":"end-bars","bed":"long-bench","jig":"end-bar-cradle","pin":"peg-20","pins":{"round":"I8","slot":"M8"},"work_offsets":{"a":"G57","b":"G58"},"z":{"zero":"seat"},"program":"end-bar-notch"}');
INSERT INTO "revision" VALUES('station','roof',2,'roof','{"name":"roof","bed":"long-bench","stock":[500,230,18],"pin":"peg-12","pins":{"edge":["G6","J6"],"stop":"F8"},"under":3,"work_offsets":{"a":"G59"},"z":{"zero":"surface"},"program":"roof-groove","note":"On a sheet of 3 mm hardboard. Print side down."}');
INSERT INTO "revision" VALUES('program','hand-hold',2,'hand-hold','{"name":"hand-hold","file":"hand-hold.nc","units":"mm","tools":{"1":{"diameter":6,"stickout":38},"2":{"diameter":12.7,"stickout":45}},"cycle":260}');
INSERT INTO "revision" VALUES('program','hand-hold-turned',2,'hand-hold-turned','{"name":"hand-hold-turned","file":"hand-hold-turned.nc","units":"mm","tools":{"1":{"diameter":6,"stickout":38},"2":{"diameter":12.7,"stickout":45}},"cycle":260}');
INSERT INTO "revision" VALUES('program','end-bar-notch',2,'end-bar-notch','{"name":"end-bar-notch","file":"end-bar-notch.nc","units":"mm","tools":{"1":{"diameter":6,"stickout":38}},"cycle":365}');
INSERT INTO "revision" VALUES('program','roof-groove',2,'roof-groove','{"name":"roof-groove","file":"roof-groove.nc","units":"mm","tools":{"3":{"diameter":8,"stickout":40}},"cycle":210}');
INSERT INTO "revision" VALUES('run','monday-sides',2,'monday-sides','{"name":"monday-sides","stations":["left","right"],"load":90,"reach":250,"parts":24}');
INSERT INTO "revision" VALUES('station','spare',3,'spare','{"name":"spare","bed":"long-bench","jig":"panel-tray","pin":"peg-20","pins":{"edge":["B6","E6"],"stop":"A7","chosen":true},"corner":"A6","toward":"+x+y","work_offsets":{"a":"G59.1"},"program":"hand-hold"}');
INSERT INTO "revision" VALUES('run','three-sides',4,'three-sides','{"name":"three-sides","stations":["spare","left","right"],"load":90,"start":10,"tool_change":40,"reach":200,"parts":24}');
INSERT INTO "revision" VALUES('station','shelf',5,'shelf','{"name":"shelf","bed":"long-bench","stock":[500,230,18],"pin":"peg-12","pins":{"edge":["J1","N1"],"stop":"I2","chosen":true},"corner":"I1","toward":"+x+y","under":3,"work_offsets":{"a":"G59.3"},"z":{"zero":"surface"},"program":"roof-groove"}');
INSERT INTO "revision" VALUES('dialect','ngc',5,'ngc','{"name":"ngc","work_offsets":["G54","G55","G56","G57","G58","G59","G59.1","G59.2","G59.3"],"expressions":true,"line_length":120,"note":"the shop''s own lines are short"}');
INSERT INTO "revision" VALUES('dialect','own',5,'own','{"name":"own","work_offsets":["G54","G55"],"first":["G17","G40"]}');
INSERT INTO "revision" VALUES('machine','gantry-2',5,'gantry-2','{"name":"gantry-2","dialect":"ngc-r","units":"in","travel":{"x":[0,1540],"y":[0,940],"z":[-190,0]}}');
INSERT INTO "revision" VALUES('machine','gantry-3',5,'gantry-3','{"name":"gantry-3","dialect":"own"}');
CREATE TABLE station_code (
	station_key VARCHAR(200) NOT NULL, 
	nest_key VARCHAR(200) NOT NULL, 
	code VARCHAR(20) NOT NULL, 
	PRIMARY KEY (station_key, nest_key)
);
INSERT INTO "station_code" VALUES('left','a','G55');
INSERT INTO "station_code" VALUES('right','a','G56');
INSERT INTO "station_code" VALUES('end-bars','a','G57');
INSERT INTO "station_code" VALUES('end-bars','b','G58');
INSERT INTO "station_code" VALUES('roof','a','G59');
INSERT INTO "station_code" VALUES('spare','a','G59.1');
INSERT INTO "station_code" VALUES('shelf','a','G59.3');
CREATE TABLE station_hole (
	station_key VARCHAR(200) NOT NULL, 
	role VARCHAR(20) NOT NULL, 
	label VARCHAR(200) NOT NULL, 
	bed_key VARCHAR(200) NOT NULL, 
	pin_key VARCHAR(200) NOT NULL, 
	PRIMARY KEY (station_key, role, label)
);
INSERT INTO "station_hole" VALUES('left','edge','D2','long-bench','peg-20');
INSERT INTO "station_hole" VALUES('left','edge','G2','long-bench','peg-20');
INSERT INTO "station_hole" VALUES('left','stop','C4','long-bench','peg-20');
INSERT INTO "station_hole" VALUES('right','edge','N3','long-bench','peg-20');
INSERT INTO "station_hole" VALUES('right','edge','N6','long-bench','peg-20');
INSERT INTO "station_hole" VALUES('right','stop','L2','long-bench','peg-20');
INSERT INTO "station_hole" VALUES('end-bars','round','I8','long-bench','peg-20');
INSERT INTO "station_hole" VALUES('end-bars','slot','M8','long-bench','peg-20');
INSERT INTO "station_hole" VALUES('roof','edge','G6','long-bench','peg-12');
INSERT INTO "station_hole" VALUES('roof','edge','J6','long-bench','peg-12');
INSERT INTO "station_hole" VALUES('roof','stop','F8','long-bench','peg-12');
INSERT INTO "station_hole" VALUES('spare','edge','B6','long-bench','peg-20');
INSERT INTO "station_hole" VALUES('spare','edge','E6','long-bench','peg-20');
INSERT INTO "station_hole" VALUES('spare','stop','A7','long-bench','peg-20');
INSERT INTO "station_hole" VALUES('shelf','edge','J1','long-bench','peg-12');
INSERT INTO "station_hole" VALUES('shelf','edge','N1','long-bench','peg-12');
INSERT INTO "station_hole" VALUES('shelf','stop','I2','long-bench','peg-12');
CREATE TABLE verification (
	id INTEGER NOT NULL, 
	at VARCHAR(40) NOT NULL, 
	who TEXT NOT NULL, 
	why TEXT, 
	station_key VARCHAR(200) NOT NULL, 
	nest VARCHAR(200) NOT NULL, 
	fingerprint VARCHAR(9) NOT NULL, 
	x_mm FLOAT NOT NULL, 
	y_mm FLOAT NOT NULL, 
	z_mm FLOAT, 
	computed_x_mm FLOAT NOT NULL, 
	computed_y_mm FLOAT NOT NULL, 
	computed_z_mm FLOAT, 
	u_mm FLOAT NOT NULL, 
	after_change INTEGER NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(after_change) REFERENCES change (id)
);
INSERT INTO "verification" VALUES(1,'2026-11-29T18:28:57.439557Z','founder',NULL,'left','a','4CAB-28C7',295.0,185.0,NULL,295.0,185.0,-82.0,0.02,5);
CREATE INDEX ix_change_at ON change (at);
CREATE INDEX reference_to ON reference (to_kind, to_key);
CREATE INDEX station_code_code ON station_code (code);
CREATE INDEX station_hole_bed ON station_hole (bed_key, label);
CREATE INDEX log_fingerprint ON log (fingerprint);
CREATE INDEX log_station ON log (station_key, nest);
CREATE INDEX ix_revision_change_id ON revision (change_id);
CREATE INDEX verification_station ON verification (station_key, nest);
COMMIT;
