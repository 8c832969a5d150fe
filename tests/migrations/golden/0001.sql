PRAGMA application_id = 1380535621;
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE answers (
	id CHAR(32) NOT NULL, 
	fingerprint VARCHAR(64) NOT NULL, 
	body TEXT NOT NULL, 
	answered_at VARCHAR(27) NOT NULL, 
	CONSTRAINT pk_answers PRIMARY KEY (id)
);
INSERT INTO "answers" VALUES('01a2133fdd61793694ab173355fb3239','9f89864f10c8aba1eecdc0d34e7b0f0ecd470148b3a52a00680c7fdb5e98f351','{"id":"01a2133f-dd61-7936-94ab-173355fb3239","code":"THC585GCD","name":"North","short_name":"NORTH","capacity_litres":35.0,"rated_loss_litres_per_day":0.18,"minimum_level_cm":12.0,"empty_weight_kg":null,"calibration":[{"level_cm":0.0,"litres":0.0},{"level_cm":25.0,"litres":16.5},{"level_cm":50.0,"litres":35.0}],"quarantine":false,"retired_at":null,"canisters":[{"id":"01a2133f-dd67-79ec-a606-4fa05f7ba4dc","code":"C75T904MP","number":1,"goblets":[{"id":"01a2133f-dd69-7096-987e-4e14653e32dd","code":"GD913WFZ8","address":"NORTH-1-L1","tier":"lower","capacity_straws":30},{"id":"01a2133f-dd69-7a77-af5f-0765aeb0347e","code":"G4VX404JW","address":"NORTH-1-U1","tier":"upper","capacity_straws":30}]},{"id":"01a2133f-dd6a-759d-b20b-81a37b52869a","code":"CRBNEYF9M","number":2,"goblets":[{"id":"01a2133f-dd6a-7025-9a8e-036c1de9c49b","code":"G7KVKVP0P","address":"NORTH-2-L1","tier":"lower","capacity_straws":30},{"id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b","code":"GEH92QC6E","address":"NORTH-2-U1","tier":"upper","capacity_straws":30}]},{"id":"01a2133f-dd6a-7114-8014-70a8b062fc5d","code":"C9Y1VJCE5","number":3,"goblets":[{"id":"01a2133f-dd6b-72c3-bc04-ecbce4bbedcf","code":"G4PR8HBVS","address":"NORTH-3-L1","tier":"lower","capacity_straws":30},{"id":"01a2133f-dd6b-7276-8fcf-2dcbc1f3e0b0","code":"G3HJ0F0RY","address":"NORTH-3-U1","tier":"upper","capacity_straws":30}]}],"warnings":[]}','2026-11-25T15:08:02.273578Z');
INSERT INTO "answers" VALUES('01a2133fddb67d3baad33331d27f4ecd','7cbc268e48d68e3e695f11fa1e391c35b1147f2e8f6e8a0e3f6100770f17000e','{"id":"01a2133f-ddb6-7d3b-aad3-3331d27f4ecd","name":"Thornbury Lantern","ueln":null,"microchip":null,"breed":null,"foaled_on":null,"died_on":null,"owner":null,"straw_colour":null,"dose_rule":{"kind":"straws","straws":4},"low_stock_doses":3,"reserve_doses":0,"warnings":[{"code":"ueln-missing","field":"ueln","message":"Without a UELN the straws'' marks do not name the stallion for good."}]}','2026-11-25T15:08:02.358234Z');
INSERT INTO "answers" VALUES('01a2133fddca716b96342f39d9bf2d10','4eb5b986ee385282eb1e7a223e2fbc2c40aa99f7cb96f8924ebf2060e53b06a2','{"id":"01a2133f-ddca-716b-9634-2f39d9bf2d10","name":"Ashen Ferryman","ueln":null,"microchip":null,"breed":null,"foaled_on":null,"died_on":null,"owner":null,"straw_colour":null,"dose_rule":{"kind":"sperm","progressive_million":250.0,"minimum_post_thaw_percent":35.0},"low_stock_doses":null,"reserve_doses":0,"warnings":[{"code":"ueln-missing","field":"ueln","message":"Without a UELN the straws'' marks do not name the stallion for good."}]}','2026-11-25T15:08:02.378617Z');
INSERT INTO "answers" VALUES('01a2133fddd47ff399de90313856aa50','98becc99be9d7207b9016d61494d0a01ab7ac8e8325c2d6196690639e6aeae49','{"id":"01a2133f-ddd4-7ff3-99de-90313856aa50","name":"Bramblewick","ueln":null,"owner":null,"warnings":[]}','2026-11-25T15:08:02.388080Z');
INSERT INTO "answers" VALUES('01a2133fdddc71eeaa0835a07ef89e79','bf9a8c4994f93625be3ca958acf596442c916a985a2fa6b0e96d168b13e8f5ae','{"id":"01a2133f-dddc-71ee-aa08-35a07ef89e79","name":"Saltmarsh Wren","ueln":null,"owner":null,"warnings":[]}','2026-11-25T15:08:02.396175Z');
INSERT INTO "answers" VALUES('58c0c25f99e348198e5c0931c133f3a3','80f0d75545caa083de6ee2ba8f826265cc2b7b893015bc6efe70a6cfa8b3b25b','{"id":"58c0c25f-99e3-4819-8e5c-0931c133f3a3","code":"B66R7CBKK","state":"prepared","straws":[{"code":"S1P1Z7DKM"},{"code":"S7DM6YYYY"},{"code":"S7W56B47K"},{"code":"SB0SN21E1"},{"code":"SQGJZPHQ3"},{"code":"SS467JV1F"}],"warnings":[]}','2026-11-25T15:08:02.401481Z');
INSERT INTO "answers" VALUES('21279eb1a96d449c98898dc070e528ce','59838f3878e3fc299adae0606c6324d6d115ff977eb84abd8e601d34b51ccd1c','{"id":"21279eb1-a96d-449c-9889-8dc070e528ce","batch":{"id":"01a2133f-ddf5-71fa-ad54-302bbc5b5072","code":"BQ9PFJ7XC"},"progressive_million_per_straw":40.0,"straws_per_dose":4,"doses":5,"straws":[{"code":"S0WFQBN0A","goblet_id":"01a2133f-dd69-7096-987e-4e14653e32dd"},{"code":"S19QZDCHJ","goblet_id":"01a2133f-dd69-7096-987e-4e14653e32dd"},{"code":"S1DN6AV80","goblet_id":"01a2133f-dd69-7096-987e-4e14653e32dd"},{"code":"S213GPDB7","goblet_id":"01a2133f-dd69-7096-987e-4e14653e32dd"},{"code":"S24BR3QB7","goblet_id":"01a2133f-dd69-7096-987e-4e14653e32dd"},{"code":"S63EVTAPR","goblet_id":"01a2133f-dd69-7096-987e-4e14653e32dd"},{"code":"S69A43QTH","goblet_id":"01a2133f-dd69-7096-987e-4e14653e32dd"},{"code":"SCSYX48ER","goblet_id":"01a2133f-dd69-7096-987e-4e14653e32dd"},{"code":"SG2DJ9VPB","goblet_id":"01a2133f-dd69-7096-987e-4e14653e32dd"},{"code":"SGWRRBCN3","goblet_id":"01a2133f-dd69-7096-987e-4e14653e32dd"},{"code":"SKA12D8B0","goblet_id":"01a2133f-dd69-7096-987e-4e14653e32dd"},{"code":"SN028DMH9","goblet_id":"01a2133f-dd69-7096-987e-4e14653e32dd"},{"code":"SNJ96XF21","goblet_id":"01a2133f-dd6a-7025-9a8e-036c1de9c49b"},{"code":"SPKH5S4W5","goblet_id":"01a2133f-dd6a-7025-9a8e-036c1de9c49b"},{"code":"SR2FEAAC4","goblet_id":"01a2133f-dd6a-7025-9a8e-036c1de9c49b"},{"code":"SRPDHVBB2","goblet_id":"01a2133f-dd6a-7025-9a8e-036c1de9c49b"},{"code":"SS97ETGGQ","goblet_id":"01a2133f-dd6a-7025-9a8e-036c1de9c49b"},{"code":"SX64241HJ","goblet_id":"01a2133f-dd6a-7025-9a8e-036c1de9c49b"},{"code":"SXAHWYTV1","goblet_id":"01a2133f-dd6a-7025-9a8e-036c1de9c49b"},{"code":"SXX1Q8GDX","goblet_id":"01a2133f-dd6a-7025-9a8e-036c1de9c49b"}],"warnings":[]}','2026-11-25T15:08:02.419801Z');
INSERT INTO "answers" VALUES('0eaf441b9ddb428ca0f331d124bf0679','879c52d3bef9d74a14a281d3d87514f3fee2e46db44ec9b30a4c5e0b46056956','{"id":"0eaf441b-9ddb-428c-a0f3-31d124bf0679","batch":{"id":"01a2133f-de18-754b-9043-15f44e47c16b","code":"BW8Z7N1J9"},"progressive_million_per_straw":38.5,"straws_per_dose":7,"doses":2,"straws":[{"code":"S4NBXAJ81","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"S6DT45XH8","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"S802K1YD2","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"S88JKNN8G","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"SAHV0AYR3","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"SAJ8EV8XQ","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"SAKP7GHCE","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"SNN1DD48Q","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"ST2383CNJ","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"SV9T3GATV","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"SVFTGNW5Y","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"SW523YJW4","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"SXD055G2R","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"SY9MYQ09P","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"SZ3232AVY","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"},{"code":"SZBH4NQSR","goblet_id":"01a2133f-dd69-7a77-af5f-0765aeb0347e"}],"warnings":[]}','2026-11-25T15:08:02.451058Z');
INSERT INTO "answers" VALUES('2327f94bf7db4c8690aa6cf8a4dd5efd','6792f56bd1fb3dfc36faf0fbf18d68cd6828410b6971c92ce5625242b3d0c457','{"id":"2327f94b-f7db-4c86-90aa-6cf8a4dd5efd","batch":{"id":"01a2133f-de2c-7343-839a-47c3a924055f","code":"B2RNTK2PC"},"progressive_million_per_straw":40.0,"straws_per_dose":4,"doses":4,"straws":[{"code":"S0EV03EX5","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"S4DFWMEN5","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"S605BYPX5","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"S66NPPD6Z","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"S74J36ERJ","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"SBHP3BNTV","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"SESZ1APYE","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"SFCAVRN18","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"SG7JKEFS9","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"SHH3TDJY3","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"SPWP8V8WW","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"SR5BT2CDM","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"SRK0KK8P5","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"SS6WEM7FM","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"STAAPVQ68","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"SVW1CJR8D","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"SWHM0G5C5","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"},{"code":"SY670VED6","goblet_id":"01a2133f-dd6a-7e48-a8be-e945ac8c780b"}],"warnings":[]}','2026-11-25T15:08:02.475435Z');
INSERT INTO "answers" VALUES('c83ed708a67f4a6c80aeec63f775af20','f3ea73ca4040e565b5490c6f6825a5f5cca636c45d1bd772ff0b1dddef747c74','{"id":"c83ed708-a67f-4a6c-80ae-ec63f775af20","state":"lifted","stallion_id":"01a2133f-ddb6-7d3b-aad3-3331d27f4ecd","stallion_name":"Thornbury Lantern","mare_id":"01a2133f-ddd4-7ff3-99de-90313856aa50","mare_name":"Bramblewick","doses":1,"rule":{"kind":"straws","straws":4},"straws":[{"code":"S0WFQBN0A","state":"lifted","batch_id":"01a2133f-ddf5-71fa-ad54-302bbc5b5072","batch_code":"BQ9PFJ7XC","address":"NORTH-1-L1","provisional":true},{"code":"S19QZDCHJ","state":"lifted","batch_id":"01a2133f-ddf5-71fa-ad54-302bbc5b5072","batch_code":"BQ9PFJ7XC","address":"NORTH-1-L1","provisional":true},{"code":"S1DN6AV80","state":"lifted","batch_id":"01a2133f-ddf5-71fa-ad54-302bbc5b5072","batch_code":"BQ9PFJ7XC","address":"NORTH-1-L1","provisional":true},{"code":"S213GPDB7","state":"lifted","batch_id":"01a2133f-ddf5-71fa-ad54-302bbc5b5072","batch_code":"BQ9PFJ7XC","address":"NORTH-1-L1","provisional":true}],"thaw":[{"batch_code":"BQ9PFJ7XC","steps":[{"water_c":37.0,"seconds":30.0}]}],"exchanged":[],"override_reason":null,"release_reserve":null,"occurred_at":"2026-11-25T15:08:02.518193Z","by":"Vaughn","insemination":null,"inseminations":[]}','2026-11-25T15:08:02.518193Z');
INSERT INTO "answers" VALUES('9ee09cc419e4431094822ac80e056509','1a6de9cfd49c7739b5bab0435c40330bd98facef2b7d54c5ef172906a62d42fd','{"id":"9ee09cc4-19e4-4310-9482-2ac80e056509","withdrawal_id":"c83ed708-a67f-4a6c-80ae-ec63f775af20","inseminated_at":"2026-11-25T15:08:02.544806Z","straws_used":4,"straws_thawed_unused":0,"method":null,"note":null,"by":"Vaughn","outcome":null}','2026-11-25T15:08:02.552017Z');
INSERT INTO "answers" VALUES('0bbe1e2735634183bb250aaacd5e79ed','f5317b46a7bc6c2d430b30672633b55dabd7a4bfa01a9cf76df0349281f50d79','{"id":"0bbe1e27-3563-4183-bb25-0aaacd5e79ed","state":"lifted","stallion_id":"01a2133f-ddb6-7d3b-aad3-3331d27f4ecd","stallion_name":"Thornbury Lantern","mare_id":"01a2133f-dddc-71ee-aa08-35a07ef89e79","mare_name":"Saltmarsh Wren","doses":1,"rule":{"kind":"straws","straws":4},"straws":[{"code":"S24BR3QB7","state":"lifted","batch_id":"01a2133f-ddf5-71fa-ad54-302bbc5b5072","batch_code":"BQ9PFJ7XC","address":"NORTH-1-L1","provisional":false},{"code":"S63EVTAPR","state":"lifted","batch_id":"01a2133f-ddf5-71fa-ad54-302bbc5b5072","batch_code":"BQ9PFJ7XC","address":"NORTH-1-L1","provisional":false},{"code":"S69A43QTH","state":"lifted","batch_id":"01a2133f-ddf5-71fa-ad54-302bbc5b5072","batch_code":"BQ9PFJ7XC","address":"NORTH-1-L1","provisional":false},{"code":"SNJ96XF21","state":"lifted","batch_id":"01a2133f-ddf5-71fa-ad54-302bbc5b5072","batch_code":"BQ9PFJ7XC","address":"NORTH-1-L1","provisional":false}],"thaw":[{"batch_code":"BQ9PFJ7XC","steps":[{"water_c":37.0,"seconds":30.0}]}],"exchanged":[{"in":"SNJ96XF21","out":"SCSYX48ER"}],"override_reason":null,"release_reserve":null,"occurred_at":"2026-11-25T15:08:02.637950Z","by":"Vaughn","insemination":null,"inseminations":[]}','2026-11-25T15:08:02.637950Z');
INSERT INTO "answers" VALUES('211df2d2f69f4233b525954acf638c64','dfd2c114c994c89be193f24fc508836684891758b7424c441169786ed9d50c3a','{"id":"211df2d2-f69f-4233-b525-954acf638c64","withdrawal_id":"0bbe1e27-3563-4183-bb25-0aaacd5e79ed","inseminated_at":"2026-11-25T15:08:02.664844Z","straws_used":2,"straws_thawed_unused":0,"method":null,"note":null,"by":"Vaughn","outcome":null}','2026-11-25T15:08:02.667307Z');
INSERT INTO "answers" VALUES('d180189b356b4c799d1e0efb43fa56b6','63ee5158316872f8a8261cfcb0fa20ca44b4447b1619e4714695eef05bb35247','{"id":"0bbe1e27-3563-4183-bb25-0aaacd5e79ed","state":"lifted","stallion_id":"01a2133f-ddb6-7d3b-aad3-3331d27f4ecd","stallion_name":"Thornbury Lantern","mare_id":"01a2133f-dddc-71ee-aa08-35a07ef89e79","mare_name":"Saltmarsh Wren","doses":1,"rule":{"kind":"straws","straws":4},"straws":[{"code":"S24BR3QB7","state":"used","batch_id":"01a2133f-ddf5-71fa-ad54-302bbc5b5072","batch_code":"BQ9PFJ7XC","address":"NORTH-1-L1","provisional":true},{"code":"S63EVTAPR","state":"used","batch_id":"01a2133f-ddf5-71fa-ad54-302bbc5b5072","batch_code":"BQ9PFJ7XC","address":"NORTH-1-L1","provisional":true},{"code":"S69A43QTH","state":"stored","batch_id":"01a2133f-ddf5-71fa-ad54-302bbc5b5072","batch_code":"BQ9PFJ7XC","address":"NORTH-1-L1","provisional":true},{"code":"SNJ96XF21","state":"lifted","batch_id":"01a2133f-ddf5-71fa-ad54-302bbc5b5072","batch_code":"BQ9PFJ7XC","address":"NORTH-1-L1","provisional":true}],"thaw":[{"batch_code":"BQ9PFJ7XC","steps":[{"water_c":37.0,"seconds":30.0}]}],"exchanged":[],"override_reason":null,"release_reserve":null,"occurred_at":"2026-11-25T15:08:02.637950Z","by":"Vaughn","insemination":{"id":"211df2d2-f69f-4233-b525-954acf638c64","withdrawal_id":"0bbe1e27-3563-4183-bb25-0aaacd5e79ed","inseminated_at":"2026-11-25T15:08:02.664844Z","straws_used":2,"straws_thawed_unused":0,"method":null,"note":null,"by":"Vaughn","outcome":null},"inseminations":[{"id":"211df2d2-f69f-4233-b525-954acf638c64","withdrawal_id":"0bbe1e27-3563-4183-bb25-0aaacd5e79ed","inseminated_at":"2026-11-25T15:08:02.664844Z","straws_used":2,"straws_thawed_unused":0,"method":null,"note":null,"by":"Vaughn","outcome":null}]}','2026-11-25T15:08:02.685504Z');
INSERT INTO "answers" VALUES('53b5ec65c46e4e288a37dd623b5d11ac','5ed40430d42a7222e7a995256a2b72ad9cb0185ac52606f96ad88c2fd1b94b59','{"id":"53b5ec65-c46e-4e28-8a37-dd623b5d11ac","straws":5,"exchanged":[],"warnings":[]}','2026-11-25T15:08:02.697044Z');
INSERT INTO "answers" VALUES('bd093859857549b099784c16850efdfd','f77097183221aa9176af17a61d02d8e10b469f5287a05c4503e5a03fb0aff236','{"id":"bd093859-8575-49b0-9978-4c16850efdfd","straws":1,"exchanged":[],"warnings":[]}','2026-11-25T15:08:02.719596Z');
INSERT INTO "answers" VALUES('09554236324144eb98a6fa9c22db2928','0de3b4c61cf215c539a1d0ae5732d6ea4d496a0846a30d8aa1789ecbe670d2cb','{"id":"09554236-3241-44eb-98a6-fa9c22db2928","straws":2,"exchanged":[],"warnings":[]}','2026-11-25T15:08:02.736684Z');
INSERT INTO "answers" VALUES('bf542f0486644b85902d8bbada833d73','774aaae051a24b607fd497194714835ff180f32346fa2185434d5090b3dd4078','{"id":"bf542f04-8664-4b85-902d-8bbada833d73","seq":18,"corrects":"09554236-3241-44eb-98a6-fa9c22db2928"}','2026-11-25T15:08:02.745294Z');
INSERT INTO "answers" VALUES('fe68e0ee4ca1496d9944a4b5ce3e9746','f9a2044e6d4a0eede06b9eddcdebc798ffddaab577b6635d0c57a9c3776ae658','{"id":"fe68e0ee-4ca1-496d-9944-a4b5ce3e9746","batch":{"id":"01a2133f-de18-754b-9043-15f44e47c16b","code":"BW8Z7N1J9"},"reason":"Result of the laboratory is not in","until":null,"placed_at":"2026-11-25T15:08:02.758963Z","by":"Vaughn"}','2026-11-25T15:08:02.758963Z');
INSERT INTO "answers" VALUES('d1867ff0bc424ddb8dcfcb942b0e5e1c','ba00b0fb8df93bcc888efeda3275b6242090bcaddda5ec161bfe58de266566ee','{"id":"d1867ff0-bc42-4ddb-8dcf-cb942b0e5e1c","batch":{"id":"01a2133f-ddf5-71fa-ad54-302bbc5b5072","code":"BQ9PFJ7XC"},"straws_tested":1,"before":{"straws_stored":13,"progressive_million_per_straw":40.0,"straws_per_dose":4,"doses":3},"after":{"straws_stored":12,"progressive_million_per_straw":42.0,"straws_per_dose":4,"doses":3},"said":"1 straw thawed for it is gone. It stays 3 doses of 4 straws.","exchanged":[],"warnings":[]}','2026-11-25T15:08:02.780394Z');
INSERT INTO "answers" VALUES('7ccf75949fe44a0bbe466560edb34f3b','31ebc5c4f38c7c1aaa9b4b5d3a8a764301e543adae03408d7a54257c98a0e1a5','{"id":"9ee09cc4-19e4-4310-9482-2ac80e056509","withdrawal_id":"c83ed708-a67f-4a6c-80ae-ec63f775af20","inseminated_at":"2026-11-25T15:08:02.544806Z","straws_used":4,"straws_thawed_unused":0,"method":null,"note":null,"by":"Vaughn","outcome":{"id":"7ccf7594-9fe4-4a0b-be46-6560edb34f3b","checked_on":"2026-11-25","pregnant":true}}','2026-11-25T15:08:02.801560Z');
CREATE TABLE batches (
	id CHAR(32) NOT NULL, 
	code VARCHAR(9) NOT NULL, 
	stallion_id CHAR(32) NOT NULL, 
	state VARCHAR(8) NOT NULL, 
	straws_planned INTEGER NOT NULL, 
	created_at VARCHAR(27) NOT NULL, 
	freeze_id CHAR(32), 
	collected_on DATE, 
	collected_at VARCHAR(27), 
	collected_where TEXT, 
	approval_number TEXT, 
	collection_volume_ml VARCHAR(40), 
	collection_concentration_million_per_ml VARCHAR(40), 
	collection_progressive_motility_percent VARCHAR(40), 
	recovery_percent VARCHAR(40), 
	extender TEXT, 
	straw_volume_ml VARCHAR(40), 
	straw_concentration_million_per_ml VARCHAR(40), 
	straw_colour TEXT, 
	post_thaw_percent VARCHAR(40), 
	post_thaw_minutes VARCHAR(40), 
	thaw JSON, 
	note TEXT, 
	CONSTRAINT pk_batches PRIMARY KEY (id), 
	CONSTRAINT batch_state CHECK (state IN ('prepared', 'frozen')), 
	CONSTRAINT batch_straws_planned CHECK (straws_planned >= 0), 
	CONSTRAINT fk_batches_stallion_id FOREIGN KEY(stallion_id) REFERENCES stallions (id), 
	CONSTRAINT uq_batches_code UNIQUE (code), 
	CONSTRAINT uq_batches_freeze_id UNIQUE (freeze_id)
);
INSERT INTO "batches" VALUES('58c0c25f99e348198e5c0931c133f3a3','B66R7CBKK','01a2133fddb67d3baad33331d27f4ecd','prepared',6,'2026-11-25T15:08:02.401481Z',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'null',NULL);
INSERT INTO "batches" VALUES('01a2133fddf571faad54302bbc5b5072','BQ9PFJ7XC','01a2133fddb67d3baad33331d27f4ecd','frozen',20,'2026-11-25T15:08:02.419801Z','21279eb1a96d449c98898dc070e528ce','2026-03-03','2026-03-03T08:15:00.000000Z','Fernhollow',NULL,'60','200','70','85',NULL,'0.5','200',NULL,'42',NULL,'[{"water_c": "37", "seconds": "30"}]',NULL);
INSERT INTO "batches" VALUES('01a2133fde18754b904315f44e47c16b','BW8Z7N1J9','01a2133fddca716b96342f39d9bf2d10','frozen',16,'2026-11-25T15:08:02.451058Z','0eaf441b9ddb428ca0f331d124bf0679','2026-03-03','2026-03-03T08:15:00.000000Z','Fernhollow',NULL,'60','200','70','85',NULL,'0.5','200',NULL,'38.5','10','[{"water_c": "37", "seconds": "30"}]',NULL);
INSERT INTO "batches" VALUES('01a2133fde2c7343839a47c3a924055f','B2RNTK2PC','01a2133fddb67d3baad33331d27f4ecd','frozen',18,'2026-11-25T15:08:02.475435Z','2327f94bf7db4c8690aa6cf8a4dd5efd','2026-03-03','2026-03-03T08:15:00.000000Z','Fernhollow',NULL,'60','200','70','85',NULL,'0.5','200',NULL,'40','10','[{"water_c": "37", "seconds": "30"}]',NULL);
CREATE TABLE canisters (
	id CHAR(32) NOT NULL, 
	tank_id CHAR(32) NOT NULL, 
	code VARCHAR(9) NOT NULL, 
	number INTEGER NOT NULL, 
	retired_at VARCHAR(27), 
	CONSTRAINT pk_canisters PRIMARY KEY (id), 
	CONSTRAINT canister_number_positive CHECK (number >= 1), 
	CONSTRAINT fk_canisters_tank_id FOREIGN KEY(tank_id) REFERENCES tanks (id), 
	CONSTRAINT uq_canisters_code UNIQUE (code)
);
INSERT INTO "canisters" VALUES('01a2133fdd6779eca6064fa05f7ba4dc','01a2133fdd61793694ab173355fb3239','C75T904MP',1,NULL);
INSERT INTO "canisters" VALUES('01a2133fdd6a759db20b81a37b52869a','01a2133fdd61793694ab173355fb3239','CRBNEYF9M',2,NULL);
INSERT INTO "canisters" VALUES('01a2133fdd6a7114801470a8b062fc5d','01a2133fdd61793694ab173355fb3239','C9Y1VJCE5',3,NULL);
CREATE TABLE dose_rules (
	id CHAR(32) NOT NULL, 
	stallion_id CHAR(32) NOT NULL, 
	number INTEGER NOT NULL, 
	kind VARCHAR(6) NOT NULL, 
	straws INTEGER, 
	progressive_million VARCHAR(40), 
	minimum_post_thaw_percent VARCHAR(40), 
	since VARCHAR(27) NOT NULL, 
	set_by CHAR(32) NOT NULL, 
	set_by_name TEXT NOT NULL, 
	CONSTRAINT pk_dose_rules PRIMARY KEY (id), 
	CONSTRAINT dose_rule_kind CHECK ((kind = 'straws' AND straws >= 1 AND progressive_million IS NULL AND minimum_post_thaw_percent IS NULL) OR (kind = 'sperm' AND straws IS NULL AND progressive_million IS NOT NULL AND minimum_post_thaw_percent IS NOT NULL)), 
	CONSTRAINT fk_dose_rules_stallion_id FOREIGN KEY(stallion_id) REFERENCES stallions (id), 
	CONSTRAINT dose_rule_order UNIQUE (stallion_id, number)
);
INSERT INTO "dose_rules" VALUES('01a2133fddb87fea955d217249cc7c46','01a2133fddb67d3baad33331d27f4ecd',1,'straws',4,NULL,NULL,'2026-11-25T15:08:02.358234Z','01a2133fdcca754e99ffd60c6dfe1948','Mirren');
INSERT INTO "dose_rules" VALUES('01a2133fddcb796f885681f59ec7385a','01a2133fddca716b96342f39d9bf2d10',1,'sperm',NULL,'250','35','2026-11-25T15:08:02.378617Z','01a2133fdcca754e99ffd60c6dfe1948','Mirren');
CREATE TABLE entries (
	seq INTEGER NOT NULL, 
	id CHAR(32) NOT NULL, 
	kind VARCHAR(20) NOT NULL, 
	by_id CHAR(32) NOT NULL, 
	by_name TEXT NOT NULL, 
	occurred_at VARCHAR(27) NOT NULL, 
	recorded_at VARCHAR(27) NOT NULL, 
	reason TEXT, 
	withdrawal_id CHAR(32), 
	batch_id CHAR(32), 
	facts TEXT NOT NULL, 
	hash VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_entries PRIMARY KEY (seq), 
	CONSTRAINT fk_entries_batch_id FOREIGN KEY(batch_id) REFERENCES batches (id), 
	CONSTRAINT uq_entries_hash UNIQUE (hash), 
	CONSTRAINT uq_entries_id UNIQUE (id)
);
INSERT INTO "entries" VALUES(1,'58c0c25f99e348198e5c0931c133f3a3','prepare','01a2133fdc9276cbaf6832cb92a3fe45','Tilda','2026-11-25T15:08:02.401481Z','2026-11-25T15:08:02.401481Z',NULL,NULL,'58c0c25f99e348198e5c0931c133f3a3','{"stallion_id":"01a2133f-ddb6-7d3b-aad3-3331d27f4ecd","straws":6}','4da66d93ab1489d79c6736b2ce5ac67e6c2fc12dbce2611277e9ce92839de5ad');
INSERT INTO "entries" VALUES(2,'01a2133fddf5724b9e96cd89ad1c13e5','prepare','01a2133fdc9276cbaf6832cb92a3fe45','Tilda','2026-11-25T15:08:02.419801Z','2026-11-25T15:08:02.419801Z',NULL,NULL,'01a2133fddf571faad54302bbc5b5072','{"stallion_id":"01a2133f-ddb6-7d3b-aad3-3331d27f4ecd","straws":20}','7332d5c2fdd2b8034b66a0d079201c29162cfa12e27a09799a2651f4abe33768');
INSERT INTO "entries" VALUES(3,'21279eb1a96d449c98898dc070e528ce','freeze','01a2133fdc9276cbaf6832cb92a3fe45','Tilda','2026-11-25T15:08:02.419801Z','2026-11-25T15:08:02.419801Z',NULL,NULL,'01a2133fddf571faad54302bbc5b5072','{"batch_code":"BQ9PFJ7XC","collected_on":"2026-03-03","hold_until":null,"progressive_motility_percent":"40","spoiled":0,"stored":20,"straw_concentration_million_per_ml":"200","straw_volume_ml":"0.5","tested":0}','fbcb245eef8839f29a72b92d69fbf3b4b80c2bffc10823f2bcb7095b7ee2ffde');
INSERT INTO "entries" VALUES(4,'01a2133fde187aa7bae2ed500161e31b','prepare','01a2133fdc9276cbaf6832cb92a3fe45','Tilda','2026-11-25T15:08:02.451058Z','2026-11-25T15:08:02.451058Z',NULL,NULL,'01a2133fde18754b904315f44e47c16b','{"stallion_id":"01a2133f-ddca-716b-9634-2f39d9bf2d10","straws":16}','c96615be90934075d8dd7294bc4ecf2820cf88b62f2c3d027db087299167b3e2');
INSERT INTO "entries" VALUES(5,'0eaf441b9ddb428ca0f331d124bf0679','freeze','01a2133fdc9276cbaf6832cb92a3fe45','Tilda','2026-11-25T15:08:02.451058Z','2026-11-25T15:08:02.451058Z',NULL,NULL,'01a2133fde18754b904315f44e47c16b','{"batch_code":"BW8Z7N1J9","collected_on":"2026-03-03","hold_until":null,"progressive_motility_percent":"38.5","spoiled":0,"stored":16,"straw_concentration_million_per_ml":"200","straw_volume_ml":"0.5","tested":0}','a0741e7b6f3926be68b0cdfa172f416eede0fa97cddb95c7cc290af1fc7dc795');
INSERT INTO "entries" VALUES(6,'01a2133fde2c7ed28d5c09b2460872c9','prepare','01a2133fdc9276cbaf6832cb92a3fe45','Tilda','2026-11-25T15:08:02.475435Z','2026-11-25T15:08:02.475435Z',NULL,NULL,'01a2133fde2c7343839a47c3a924055f','{"stallion_id":"01a2133f-ddb6-7d3b-aad3-3331d27f4ecd","straws":18}','e043d3326bf060e54d537bff6557e0130904d44b3e9a1b663e3d447c8134174d');
INSERT INTO "entries" VALUES(7,'2327f94bf7db4c8690aa6cf8a4dd5efd','freeze','01a2133fdc9276cbaf6832cb92a3fe45','Tilda','2026-11-25T15:08:02.475435Z','2026-11-25T15:08:02.475435Z',NULL,NULL,'01a2133fde2c7343839a47c3a924055f','{"batch_code":"B2RNTK2PC","collected_on":"2026-03-03","hold_until":"2026-12-25","progressive_motility_percent":"40","spoiled":0,"stored":18,"straw_concentration_million_per_ml":"200","straw_volume_ml":"0.5","tested":0}','2abfe859083eb5f0bfcc5ca1104eff59b5c23f45da86e818c43104e542f3344b');
INSERT INTO "entries" VALUES(8,'c83ed708a67f4a6c80aeec63f775af20','withdraw','01a2133fdcb372a2a3414afc48c1ef43','Vaughn','2026-11-25T15:08:02.518193Z','2026-11-25T15:08:02.518193Z',NULL,'c83ed708a67f4a6c80aeec63f775af20',NULL,'{"doses":1,"mare":"Bramblewick"}','fc224c2ebf755bb97bf9f062295f4c52d98312ad069feb842c18ddd6fa435e61');
INSERT INTO "entries" VALUES(9,'9ee09cc419e4431094822ac80e056509','use','01a2133fdcb372a2a3414afc48c1ef43','Vaughn','2026-11-25T15:08:02.552017Z','2026-11-25T15:08:02.552017Z',NULL,'c83ed708a67f4a6c80aeec63f775af20',NULL,'{"inseminated_at":"2026-11-25 15:08:02.544806+00:00","thawed_unused":0}','7432d90d06d41031be88987ac1bdf44ad01e43e14fcefbe294b1ccc5cb1510a8');
INSERT INTO "entries" VALUES(10,'01a2133fded0768d98edc827280e7180','exchange','01a2133fdcb372a2a3414afc48c1ef43','Vaughn','2026-11-25T15:08:02.637950Z','2026-11-25T15:08:02.637950Z',NULL,NULL,NULL,'{}','5c30bea393b6fee81a97dbdaed554de8a9807e40aaad9be0d878c7c3444a2171');
INSERT INTO "entries" VALUES(11,'0bbe1e2735634183bb250aaacd5e79ed','withdraw','01a2133fdcb372a2a3414afc48c1ef43','Vaughn','2026-11-25T15:08:02.637950Z','2026-11-25T15:08:02.637950Z',NULL,'0bbe1e2735634183bb250aaacd5e79ed',NULL,'{"doses":1,"mare":"Saltmarsh Wren"}','5a6d618c5f4232a80350190052494bba7d725b54d2139f44d508df1f9fe1f6e6');
INSERT INTO "entries" VALUES(12,'211df2d2f69f4233b525954acf638c64','use','01a2133fdcb372a2a3414afc48c1ef43','Vaughn','2026-11-25T15:08:02.667307Z','2026-11-25T15:08:02.667307Z',NULL,'0bbe1e2735634183bb250aaacd5e79ed',NULL,'{"inseminated_at":"2026-11-25 15:08:02.664844+00:00","thawed_unused":0}','620171ceb613800eb9248dd2144e1670d4e0c65e49e886030088da29f7c9f50f');
INSERT INTO "entries" VALUES(13,'01a2133fdef172ffb3caf283050029a4','doubt','01a2133fdcb372a2a3414afc48c1ef43','Vaughn','2026-11-25T15:08:02.667307Z','2026-11-25T15:08:02.667307Z',NULL,'0bbe1e2735634183bb250aaacd5e79ed',NULL,'{}','2a1eb94a14621a71a6f83635dedff365e75133fa20013b1839e802e406fa3e57');
INSERT INTO "entries" VALUES(14,'d180189b356b4c799d1e0efb43fa56b6','return','01a2133fdcb372a2a3414afc48c1ef43','Vaughn','2026-11-25T15:08:02.685504Z','2026-11-25T15:08:02.685504Z',NULL,'0bbe1e2735634183bb250aaacd5e79ed',NULL,'{"kept_in_nitrogen":true}','dbb29bd4353c40aabb9d369d08be0696a0d38a6a0b116d067bc5066af58b7dfa');
INSERT INTO "entries" VALUES(15,'53b5ec65c46e4e288a37dd623b5d11ac','move','01a2133fdc9276cbaf6832cb92a3fe45','Tilda','2026-11-25T15:08:02.697044Z','2026-11-25T15:08:02.697044Z',NULL,NULL,NULL,'{}','9147e379e07417a53eede263264ed9551ae0a26f9c13a1f94e7c4167a3d106ec');
INSERT INTO "entries" VALUES(16,'bd093859857549b099784c16850efdfd','discard','01a2133fdc9276cbaf6832cb92a3fe45','Tilda','2026-11-25T15:08:02.719596Z','2026-11-25T15:08:02.719596Z','Cracked at the seal',NULL,NULL,'{}','6c79f7afa31a72218181a0b89c3846bfef4d0bb468eedf5f573ba176253aea3d');
INSERT INTO "entries" VALUES(17,'09554236324144eb98a6fa9c22db2928','discard','01a2133fdc9276cbaf6832cb92a3fe45','Tilda','2026-11-25T15:08:02.736684Z','2026-11-25T15:08:02.736684Z','Counted wrongly',NULL,NULL,'{}','95d0e0706b2352ec46fa871aff3067d7d911f09f0c968af68157b35237e41b18');
INSERT INTO "entries" VALUES(18,'bf542f0486644b85902d8bbada833d73','correct','01a2133fdc9276cbaf6832cb92a3fe45','Tilda','2026-11-25T15:08:02.745294Z','2026-11-25T15:08:02.745294Z','They were in the other hand',NULL,NULL,'{"corrects":{"id":"09554236324144eb98a6fa9c22db2928","kind":"discard","seq":17}}','5ab51c69f6f9d1c67dc08186981cb24ee403d93ed36d55b7411dab8b8f1f033d');
INSERT INTO "entries" VALUES(19,'fe68e0ee4ca1496d9944a4b5ce3e9746','hold','01a2133fdcb372a2a3414afc48c1ef43','Vaughn','2026-11-25T15:08:02.758963Z','2026-11-25T15:08:02.758963Z','Result of the laboratory is not in',NULL,'01a2133fde18754b904315f44e47c16b','{"until":null}','b934740444e592c335db86284b5f9c946b977f676a94e42f527a3554f1f8839c');
INSERT INTO "entries" VALUES(20,'d1867ff0bc424ddb8dcfcb942b0e5e1c','test','01a2133fdcb372a2a3414afc48c1ef43','Vaughn','2026-11-25T15:08:02.780394Z','2026-11-25T15:08:02.780394Z',NULL,NULL,'01a2133fddf571faad54302bbc5b5072','{"minutes":null,"progressive_motility_percent":"42"}','6e3cc595e7881769e20e401917a8b77317fe30a9aedb2a6e1c238649bb84a5ce');
CREATE TABLE goblets (
	id CHAR(32) NOT NULL, 
	canister_id CHAR(32) NOT NULL, 
	code VARCHAR(9) NOT NULL, 
	tier VARCHAR(5) NOT NULL, 
	position INTEGER NOT NULL, 
	address TEXT NOT NULL, 
	capacity_straws INTEGER NOT NULL, 
	retired_at VARCHAR(27), 
	CONSTRAINT pk_goblets PRIMARY KEY (id), 
	CONSTRAINT goblet_tier CHECK (tier IN ('upper', 'lower')), 
	CONSTRAINT goblet_capacity_positive CHECK (capacity_straws >= 1), 
	CONSTRAINT fk_goblets_canister_id FOREIGN KEY(canister_id) REFERENCES canisters (id), 
	CONSTRAINT uq_goblets_code UNIQUE (code)
);
INSERT INTO "goblets" VALUES('01a2133fdd697096987e4e14653e32dd','01a2133fdd6779eca6064fa05f7ba4dc','GD913WFZ8','lower',1,'NORTH-1-L1',30,NULL);
INSERT INTO "goblets" VALUES('01a2133fdd697a77af5f0765aeb0347e','01a2133fdd6779eca6064fa05f7ba4dc','G4VX404JW','upper',1,'NORTH-1-U1',30,NULL);
INSERT INTO "goblets" VALUES('01a2133fdd6a70259a8e036c1de9c49b','01a2133fdd6a759db20b81a37b52869a','G7KVKVP0P','lower',1,'NORTH-2-L1',30,NULL);
INSERT INTO "goblets" VALUES('01a2133fdd6a7e48a8bee945ac8c780b','01a2133fdd6a759db20b81a37b52869a','GEH92QC6E','upper',1,'NORTH-2-U1',30,NULL);
INSERT INTO "goblets" VALUES('01a2133fdd6b72c3bc04ecbce4bbedcf','01a2133fdd6a7114801470a8b062fc5d','G4PR8HBVS','lower',1,'NORTH-3-L1',30,NULL);
INSERT INTO "goblets" VALUES('01a2133fdd6b72768fcf2dcbc1f3e0b0','01a2133fdd6a7114801470a8b062fc5d','G3HJ0F0RY','upper',1,'NORTH-3-U1',30,NULL);
CREATE TABLE holds (
	id CHAR(32) NOT NULL, 
	batch_id CHAR(32) NOT NULL, 
	reason TEXT NOT NULL, 
	until DATE, 
	placed_at VARCHAR(27) NOT NULL, 
	placed_by CHAR(32) NOT NULL, 
	placed_by_name TEXT NOT NULL, 
	released_at VARCHAR(27), 
	released_by CHAR(32), 
	released_by_name TEXT, 
	release_reason TEXT, 
	CONSTRAINT pk_holds PRIMARY KEY (id), 
	CONSTRAINT hold_release_complete CHECK ((released_at IS NULL) = (released_by IS NULL)), 
	CONSTRAINT fk_holds_batch_id FOREIGN KEY(batch_id) REFERENCES batches (id)
);
INSERT INTO "holds" VALUES('2327f94bf7db4c8690aa6cf8a4dd5efd','01a2133fde2c7343839a47c3a924055f','until 25 Dec 2026, as set at the freeze','2026-12-25','2026-11-25T15:08:02.475435Z','01a2133fdc9276cbaf6832cb92a3fe45','Tilda',NULL,NULL,NULL,NULL);
INSERT INTO "holds" VALUES('fe68e0ee4ca1496d9944a4b5ce3e9746','01a2133fde18754b904315f44e47c16b','Result of the laboratory is not in',NULL,'2026-11-25T15:08:02.758963Z','01a2133fdcb372a2a3414afc48c1ef43','Vaughn',NULL,NULL,NULL,NULL);
CREATE TABLE inseminations (
	id CHAR(32) NOT NULL, 
	withdrawal_id CHAR(32) NOT NULL, 
	inseminated_at VARCHAR(27) NOT NULL, 
	straws_used INTEGER NOT NULL, 
	straws_thawed_unused INTEGER NOT NULL, 
	method TEXT, 
	note TEXT, 
	recorded_at VARCHAR(27) NOT NULL, 
	by_id CHAR(32) NOT NULL, 
	by_name TEXT NOT NULL, 
	corrected_at VARCHAR(27), 
	CONSTRAINT pk_inseminations PRIMARY KEY (id), 
	CONSTRAINT insemination_thawed_unused CHECK (straws_thawed_unused >= 0), 
	CONSTRAINT insemination_of_straws CHECK (straws_used + straws_thawed_unused >= 1), 
	CONSTRAINT insemination_used CHECK (straws_used >= 0), 
	CONSTRAINT fk_inseminations_withdrawal_id FOREIGN KEY(withdrawal_id) REFERENCES withdrawals (id)
);
INSERT INTO "inseminations" VALUES('9ee09cc419e4431094822ac80e056509','c83ed708a67f4a6c80aeec63f775af20','2026-11-25T15:08:02.544806Z',4,0,NULL,NULL,'2026-11-25T15:08:02.552017Z','01a2133fdcb372a2a3414afc48c1ef43','Vaughn',NULL);
INSERT INTO "inseminations" VALUES('211df2d2f69f4233b525954acf638c64','0bbe1e2735634183bb250aaacd5e79ed','2026-11-25T15:08:02.664844Z',2,0,NULL,NULL,'2026-11-25T15:08:02.667307Z','01a2133fdcb372a2a3414afc48c1ef43','Vaughn',NULL);
CREATE TABLE lines (
	entry_seq INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	straw_code VARCHAR(9) NOT NULL, 
	from_state VARCHAR(10) NOT NULL, 
	from_goblet_id CHAR(32), 
	to_state VARCHAR(10) NOT NULL, 
	to_goblet_id CHAR(32), 
	withdrawal_id CHAR(32), 
	provisional BOOLEAN NOT NULL, 
	CONSTRAINT pk_lines PRIMARY KEY (entry_seq, number), 
	CONSTRAINT line_from_place CHECK ((from_state = 'stored') = (from_goblet_id IS NOT NULL)), 
	CONSTRAINT line_to_place CHECK ((to_state = 'stored') = (to_goblet_id IS NOT NULL)), 
	CONSTRAINT line_from_state CHECK (from_state IN ('made', 'prepared', 'void', 'stored', 'lifted', 'used', 'tested', 'discarded', 'dispatched', 'missing')), 
	CONSTRAINT line_to_state CHECK (to_state IN ('prepared', 'void', 'stored', 'lifted', 'used', 'tested', 'discarded', 'dispatched', 'missing')), 
	CONSTRAINT fk_lines_entry_seq FOREIGN KEY(entry_seq) REFERENCES entries (seq), 
	CONSTRAINT fk_lines_from_goblet_id FOREIGN KEY(from_goblet_id) REFERENCES goblets (id), 
	CONSTRAINT fk_lines_straw_code FOREIGN KEY(straw_code) REFERENCES straws (code), 
	CONSTRAINT fk_lines_to_goblet_id FOREIGN KEY(to_goblet_id) REFERENCES goblets (id)
);
INSERT INTO "lines" VALUES(1,1,'S1P1Z7DKM','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(1,2,'S7DM6YYYY','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(1,3,'S7W56B47K','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(1,4,'SB0SN21E1','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(1,5,'SQGJZPHQ3','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(1,6,'SS467JV1F','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,1,'S0WFQBN0A','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,2,'S19QZDCHJ','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,3,'S1DN6AV80','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,4,'S213GPDB7','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,5,'S24BR3QB7','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,6,'S63EVTAPR','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,7,'S69A43QTH','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,8,'SCSYX48ER','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,9,'SG2DJ9VPB','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,10,'SGWRRBCN3','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,11,'SKA12D8B0','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,12,'SN028DMH9','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,13,'SNJ96XF21','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,14,'SPKH5S4W5','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,15,'SR2FEAAC4','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,16,'SRPDHVBB2','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,17,'SS97ETGGQ','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,18,'SX64241HJ','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,19,'SXAHWYTV1','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(2,20,'SXX1Q8GDX','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(3,1,'S0WFQBN0A','prepared',NULL,'stored','01a2133fdd697096987e4e14653e32dd',NULL,1);
INSERT INTO "lines" VALUES(3,2,'S19QZDCHJ','prepared',NULL,'stored','01a2133fdd697096987e4e14653e32dd',NULL,1);
INSERT INTO "lines" VALUES(3,3,'S1DN6AV80','prepared',NULL,'stored','01a2133fdd697096987e4e14653e32dd',NULL,1);
INSERT INTO "lines" VALUES(3,4,'S213GPDB7','prepared',NULL,'stored','01a2133fdd697096987e4e14653e32dd',NULL,1);
INSERT INTO "lines" VALUES(3,5,'S24BR3QB7','prepared',NULL,'stored','01a2133fdd697096987e4e14653e32dd',NULL,1);
INSERT INTO "lines" VALUES(3,6,'S63EVTAPR','prepared',NULL,'stored','01a2133fdd697096987e4e14653e32dd',NULL,1);
INSERT INTO "lines" VALUES(3,7,'S69A43QTH','prepared',NULL,'stored','01a2133fdd697096987e4e14653e32dd',NULL,1);
INSERT INTO "lines" VALUES(3,8,'SCSYX48ER','prepared',NULL,'stored','01a2133fdd697096987e4e14653e32dd',NULL,1);
INSERT INTO "lines" VALUES(3,9,'SG2DJ9VPB','prepared',NULL,'stored','01a2133fdd697096987e4e14653e32dd',NULL,1);
INSERT INTO "lines" VALUES(3,10,'SGWRRBCN3','prepared',NULL,'stored','01a2133fdd697096987e4e14653e32dd',NULL,1);
INSERT INTO "lines" VALUES(3,11,'SKA12D8B0','prepared',NULL,'stored','01a2133fdd697096987e4e14653e32dd',NULL,1);
INSERT INTO "lines" VALUES(3,12,'SN028DMH9','prepared',NULL,'stored','01a2133fdd697096987e4e14653e32dd',NULL,1);
INSERT INTO "lines" VALUES(3,13,'SNJ96XF21','prepared',NULL,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,1);
INSERT INTO "lines" VALUES(3,14,'SPKH5S4W5','prepared',NULL,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,1);
INSERT INTO "lines" VALUES(3,15,'SR2FEAAC4','prepared',NULL,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,1);
INSERT INTO "lines" VALUES(3,16,'SRPDHVBB2','prepared',NULL,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,1);
INSERT INTO "lines" VALUES(3,17,'SS97ETGGQ','prepared',NULL,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,1);
INSERT INTO "lines" VALUES(3,18,'SX64241HJ','prepared',NULL,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,1);
INSERT INTO "lines" VALUES(3,19,'SXAHWYTV1','prepared',NULL,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,1);
INSERT INTO "lines" VALUES(3,20,'SXX1Q8GDX','prepared',NULL,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,1);
INSERT INTO "lines" VALUES(4,1,'S4NBXAJ81','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,2,'S6DT45XH8','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,3,'S802K1YD2','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,4,'S88JKNN8G','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,5,'SAHV0AYR3','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,6,'SAJ8EV8XQ','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,7,'SAKP7GHCE','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,8,'SNN1DD48Q','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,9,'ST2383CNJ','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,10,'SV9T3GATV','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,11,'SVFTGNW5Y','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,12,'SW523YJW4','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,13,'SXD055G2R','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,14,'SY9MYQ09P','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,15,'SZ3232AVY','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(4,16,'SZBH4NQSR','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(5,1,'S4NBXAJ81','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,2,'S6DT45XH8','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,3,'S802K1YD2','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,4,'S88JKNN8G','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,5,'SAHV0AYR3','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,6,'SAJ8EV8XQ','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,7,'SAKP7GHCE','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,8,'SNN1DD48Q','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,9,'ST2383CNJ','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,10,'SV9T3GATV','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,11,'SVFTGNW5Y','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,12,'SW523YJW4','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,13,'SXD055G2R','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,14,'SY9MYQ09P','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,15,'SZ3232AVY','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(5,16,'SZBH4NQSR','prepared',NULL,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,0);
INSERT INTO "lines" VALUES(6,1,'S0EV03EX5','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,2,'S4DFWMEN5','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,3,'S605BYPX5','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,4,'S66NPPD6Z','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,5,'S74J36ERJ','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,6,'SBHP3BNTV','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,7,'SESZ1APYE','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,8,'SFCAVRN18','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,9,'SG7JKEFS9','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,10,'SHH3TDJY3','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,11,'SPWP8V8WW','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,12,'SR5BT2CDM','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,13,'SRK0KK8P5','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,14,'SS6WEM7FM','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,15,'STAAPVQ68','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,16,'SVW1CJR8D','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,17,'SWHM0G5C5','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(6,18,'SY670VED6','made',NULL,'prepared',NULL,NULL,0);
INSERT INTO "lines" VALUES(7,1,'S0EV03EX5','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,2,'S4DFWMEN5','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,3,'S605BYPX5','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,4,'S66NPPD6Z','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,5,'S74J36ERJ','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,6,'SBHP3BNTV','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,7,'SESZ1APYE','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,8,'SFCAVRN18','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,9,'SG7JKEFS9','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,10,'SHH3TDJY3','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,11,'SPWP8V8WW','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,12,'SR5BT2CDM','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,13,'SRK0KK8P5','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,14,'SS6WEM7FM','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,15,'STAAPVQ68','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,16,'SVW1CJR8D','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,17,'SWHM0G5C5','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(7,18,'SY670VED6','prepared',NULL,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,0);
INSERT INTO "lines" VALUES(8,1,'S0WFQBN0A','stored','01a2133fdd697096987e4e14653e32dd','lifted',NULL,'c83ed708a67f4a6c80aeec63f775af20',1);
INSERT INTO "lines" VALUES(8,2,'S19QZDCHJ','stored','01a2133fdd697096987e4e14653e32dd','lifted',NULL,'c83ed708a67f4a6c80aeec63f775af20',1);
INSERT INTO "lines" VALUES(8,3,'S1DN6AV80','stored','01a2133fdd697096987e4e14653e32dd','lifted',NULL,'c83ed708a67f4a6c80aeec63f775af20',1);
INSERT INTO "lines" VALUES(8,4,'S213GPDB7','stored','01a2133fdd697096987e4e14653e32dd','lifted',NULL,'c83ed708a67f4a6c80aeec63f775af20',1);
INSERT INTO "lines" VALUES(9,1,'S0WFQBN0A','lifted',NULL,'used',NULL,'c83ed708a67f4a6c80aeec63f775af20',1);
INSERT INTO "lines" VALUES(9,2,'S19QZDCHJ','lifted',NULL,'used',NULL,'c83ed708a67f4a6c80aeec63f775af20',1);
INSERT INTO "lines" VALUES(9,3,'S1DN6AV80','lifted',NULL,'used',NULL,'c83ed708a67f4a6c80aeec63f775af20',1);
INSERT INTO "lines" VALUES(9,4,'S213GPDB7','lifted',NULL,'used',NULL,'c83ed708a67f4a6c80aeec63f775af20',1);
INSERT INTO "lines" VALUES(10,1,'SNJ96XF21','stored','01a2133fdd6a70259a8e036c1de9c49b','stored','01a2133fdd697096987e4e14653e32dd',NULL,0);
INSERT INTO "lines" VALUES(10,2,'SCSYX48ER','stored','01a2133fdd697096987e4e14653e32dd','stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,1);
INSERT INTO "lines" VALUES(11,1,'S24BR3QB7','stored','01a2133fdd697096987e4e14653e32dd','lifted',NULL,'0bbe1e2735634183bb250aaacd5e79ed',0);
INSERT INTO "lines" VALUES(11,2,'S63EVTAPR','stored','01a2133fdd697096987e4e14653e32dd','lifted',NULL,'0bbe1e2735634183bb250aaacd5e79ed',0);
INSERT INTO "lines" VALUES(11,3,'S69A43QTH','stored','01a2133fdd697096987e4e14653e32dd','lifted',NULL,'0bbe1e2735634183bb250aaacd5e79ed',0);
INSERT INTO "lines" VALUES(11,4,'SNJ96XF21','stored','01a2133fdd697096987e4e14653e32dd','lifted',NULL,'0bbe1e2735634183bb250aaacd5e79ed',0);
INSERT INTO "lines" VALUES(12,1,'S24BR3QB7','lifted',NULL,'used',NULL,'0bbe1e2735634183bb250aaacd5e79ed',1);
INSERT INTO "lines" VALUES(12,2,'S63EVTAPR','lifted',NULL,'used',NULL,'0bbe1e2735634183bb250aaacd5e79ed',1);
INSERT INTO "lines" VALUES(13,1,'S69A43QTH','lifted',NULL,'lifted',NULL,'0bbe1e2735634183bb250aaacd5e79ed',1);
INSERT INTO "lines" VALUES(13,2,'SNJ96XF21','lifted',NULL,'lifted',NULL,'0bbe1e2735634183bb250aaacd5e79ed',1);
INSERT INTO "lines" VALUES(14,1,'S69A43QTH','lifted',NULL,'stored','01a2133fdd697096987e4e14653e32dd','0bbe1e2735634183bb250aaacd5e79ed',1);
INSERT INTO "lines" VALUES(15,1,'S4NBXAJ81','stored','01a2133fdd697a77af5f0765aeb0347e','stored','01a2133fdd6b72c3bc04ecbce4bbedcf',NULL,1);
INSERT INTO "lines" VALUES(15,2,'S6DT45XH8','stored','01a2133fdd697a77af5f0765aeb0347e','stored','01a2133fdd6b72c3bc04ecbce4bbedcf',NULL,1);
INSERT INTO "lines" VALUES(15,3,'S802K1YD2','stored','01a2133fdd697a77af5f0765aeb0347e','stored','01a2133fdd6b72c3bc04ecbce4bbedcf',NULL,1);
INSERT INTO "lines" VALUES(15,4,'S88JKNN8G','stored','01a2133fdd697a77af5f0765aeb0347e','stored','01a2133fdd6b72c3bc04ecbce4bbedcf',NULL,1);
INSERT INTO "lines" VALUES(15,5,'SAHV0AYR3','stored','01a2133fdd697a77af5f0765aeb0347e','stored','01a2133fdd6b72c3bc04ecbce4bbedcf',NULL,1);
INSERT INTO "lines" VALUES(16,1,'SAJ8EV8XQ','stored','01a2133fdd697a77af5f0765aeb0347e','discarded',NULL,NULL,1);
INSERT INTO "lines" VALUES(17,1,'S4NBXAJ81','stored','01a2133fdd6b72c3bc04ecbce4bbedcf','discarded',NULL,NULL,1);
INSERT INTO "lines" VALUES(17,2,'S6DT45XH8','stored','01a2133fdd6b72c3bc04ecbce4bbedcf','discarded',NULL,NULL,1);
INSERT INTO "lines" VALUES(18,1,'S4NBXAJ81','discarded',NULL,'stored','01a2133fdd6b72c3bc04ecbce4bbedcf',NULL,1);
INSERT INTO "lines" VALUES(18,2,'S6DT45XH8','discarded',NULL,'stored','01a2133fdd6b72c3bc04ecbce4bbedcf',NULL,1);
INSERT INTO "lines" VALUES(20,1,'SCSYX48ER','stored','01a2133fdd6a70259a8e036c1de9c49b','tested',NULL,NULL,1);
CREATE TABLE mares (
	id CHAR(32) NOT NULL, 
	name TEXT NOT NULL, 
	folded_name TEXT NOT NULL, 
	ueln VARCHAR(15), 
	owner TEXT, 
	created_at VARCHAR(27) NOT NULL, 
	CONSTRAINT pk_mares PRIMARY KEY (id)
);
INSERT INTO "mares" VALUES('01a2133fddd47ff399de90313856aa50','Bramblewick','bramblewick',NULL,NULL,'2026-11-25T15:08:02.388080Z');
INSERT INTO "mares" VALUES('01a2133fdddc71eeaa0835a07ef89e79','Saltmarsh Wren','saltmarsh wren',NULL,NULL,'2026-11-25T15:08:02.396175Z');
CREATE TABLE outcomes (
	id CHAR(32) NOT NULL, 
	insemination_id CHAR(32) NOT NULL, 
	checked_on DATE NOT NULL, 
	pregnant BOOLEAN NOT NULL, 
	recorded_at VARCHAR(27) NOT NULL, 
	by_id CHAR(32) NOT NULL, 
	by_name TEXT NOT NULL, 
	CONSTRAINT pk_outcomes PRIMARY KEY (id), 
	CONSTRAINT fk_outcomes_insemination_id FOREIGN KEY(insemination_id) REFERENCES inseminations (id)
);
INSERT INTO "outcomes" VALUES('7ccf75949fe44a0bbe466560edb34f3b','9ee09cc419e4431094822ac80e056509','2026-11-25',1,'2026-11-25T15:08:02.801560Z','01a2133fdcb372a2a3414afc48c1ef43','Vaughn');
CREATE TABLE post_thaw_results (
	id CHAR(32) NOT NULL, 
	batch_id CHAR(32) NOT NULL, 
	progressive_motility_percent VARCHAR(40) NOT NULL, 
	minutes VARCHAR(40), 
	examined_at VARCHAR(27) NOT NULL, 
	recorded_at VARCHAR(27) NOT NULL, 
	recorded_by CHAR(32) NOT NULL, 
	recorded_by_name TEXT NOT NULL, 
	CONSTRAINT pk_post_thaw_results PRIMARY KEY (id), 
	CONSTRAINT fk_post_thaw_results_batch_id FOREIGN KEY(batch_id) REFERENCES batches (id)
);
INSERT INTO "post_thaw_results" VALUES('21279eb1a96d449c98898dc070e528ce','01a2133fddf571faad54302bbc5b5072','40','10','2026-11-25T15:08:02.419801Z','2026-11-25T15:08:02.419801Z','01a2133fdc9276cbaf6832cb92a3fe45','Tilda');
INSERT INTO "post_thaw_results" VALUES('0eaf441b9ddb428ca0f331d124bf0679','01a2133fde18754b904315f44e47c16b','38.5','10','2026-11-25T15:08:02.451058Z','2026-11-25T15:08:02.451058Z','01a2133fdc9276cbaf6832cb92a3fe45','Tilda');
INSERT INTO "post_thaw_results" VALUES('2327f94bf7db4c8690aa6cf8a4dd5efd','01a2133fde2c7343839a47c3a924055f','40','10','2026-11-25T15:08:02.475435Z','2026-11-25T15:08:02.475435Z','01a2133fdc9276cbaf6832cb92a3fe45','Tilda');
INSERT INTO "post_thaw_results" VALUES('d1867ff0bc424ddb8dcfcb942b0e5e1c','01a2133fddf571faad54302bbc5b5072','42',NULL,'2026-11-25T15:08:02.780394Z','2026-11-25T15:08:02.780394Z','01a2133fdcb372a2a3414afc48c1ef43','Vaughn');
CREATE TABLE record_changes (
	id CHAR(32) NOT NULL, 
	kind VARCHAR(20) NOT NULL, 
	record_id CHAR(32) NOT NULL, 
	changed_at VARCHAR(27) NOT NULL, 
	changed_by CHAR(32) NOT NULL, 
	changed_by_name TEXT NOT NULL, 
	"before" JSON NOT NULL, 
	"after" JSON NOT NULL, 
	CONSTRAINT pk_record_changes PRIMARY KEY (id)
);
INSERT INTO "record_changes" VALUES('01a2133fdd567449925de558a860e5a9','station','00000000000000000000000000000001','2026-11-25T15:08:02.262624Z','01a2133fdcca754e99ffd60c6dfe1948','Mirren','{"country": null, "name": "Our station", "time_zone": "UTC"}','{"country": "IE", "name": "Fernhollow", "time_zone": "Europe/Dublin"}');
CREATE TABLE security_events (
	seq INTEGER NOT NULL, 
	kind VARCHAR(40) NOT NULL, 
	at VARCHAR(27) NOT NULL, 
	by_id CHAR(32), 
	about_id CHAR(32), 
	text TEXT NOT NULL, 
	hash VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_security_events PRIMARY KEY (seq), 
	CONSTRAINT security_event_hashed CHECK (length(hash) = 64), 
	CONSTRAINT security_event_seq CHECK (seq >= 1), 
	CONSTRAINT fk_security_events_about_id FOREIGN KEY(about_id) REFERENCES users (id), 
	CONSTRAINT fk_security_events_by_id FOREIGN KEY(by_id) REFERENCES users (id)
);
INSERT INTO "security_events" VALUES(1,'user-added','2026-11-25T15:08:02.036329Z',NULL,'01a2133fdc9276cbaf6832cb92a3fe45','{"about":"01a2133f-dc92-76cb-af68-32cb92a3fe45","about_name":"tilda","address":null,"at":"2026-11-25T15:08:02.036329Z","by":null,"by_name":null,"kind":"user-added","role":"technician","seq":1}','965943600c5e5e56cbe1c82c9770ca58081be0ca6e63706c3014905485c08daa');
INSERT INTO "security_events" VALUES(2,'token-made','2026-11-25T15:08:02.070219Z',NULL,'01a2133fdc9276cbaf6832cb92a3fe45','{"about":"01a2133f-dc92-76cb-af68-32cb92a3fe45","about_name":"tilda","address":null,"at":"2026-11-25T15:08:02.070219Z","by":null,"by_name":null,"expires_on":"2027-11-25","kind":"token-made","seq":2,"token_id":"01a2133f-dc96-7060-8e45-55d63ff528a3"}','7d2bdd0ffbfaffd94426ad6e5c3849f066ee61a6ecbb665fa5f8e3342c36edfe');
INSERT INTO "security_events" VALUES(3,'user-added','2026-11-25T15:08:02.072953Z',NULL,'01a2133fdcb372a2a3414afc48c1ef43','{"about":"01a2133f-dcb3-72a2-a341-4afc48c1ef43","about_name":"vaughn","address":null,"at":"2026-11-25T15:08:02.072953Z","by":null,"by_name":null,"kind":"user-added","role":"vet","seq":3}','1968027cef74331ded8218f8e0a15ef2ce60aa2b09027eb447e9a40b053bfcaa');
INSERT INTO "security_events" VALUES(4,'token-made','2026-11-25T15:08:02.101121Z',NULL,'01a2133fdcb372a2a3414afc48c1ef43','{"about":"01a2133f-dcb3-72a2-a341-4afc48c1ef43","about_name":"vaughn","address":null,"at":"2026-11-25T15:08:02.101121Z","by":null,"by_name":null,"expires_on":"2027-11-25","kind":"token-made","seq":4,"token_id":"01a2133f-dcb5-7645-bf7c-916f55957824"}','bfe8f7052980efdb32a349753394a8de07820d6feefa8469f0be8fe5ebfa715f');
INSERT INTO "security_events" VALUES(5,'user-added','2026-11-25T15:08:02.102997Z',NULL,'01a2133fdcca754e99ffd60c6dfe1948','{"about":"01a2133f-dcca-754e-99ff-d60c6dfe1948","about_name":"mirren","address":null,"at":"2026-11-25T15:08:02.102997Z","by":null,"by_name":null,"kind":"user-added","role":"manager","seq":5}','71255b31f633a61ee327e83510c825498657042f3c66dbdab29bba849b0b2a8a');
INSERT INTO "security_events" VALUES(6,'token-made','2026-11-25T15:08:02.123996Z',NULL,'01a2133fdcca754e99ffd60c6dfe1948','{"about":"01a2133f-dcca-754e-99ff-d60c6dfe1948","about_name":"mirren","address":null,"at":"2026-11-25T15:08:02.123996Z","by":null,"by_name":null,"expires_on":"2027-11-25","kind":"token-made","seq":6,"token_id":"01a2133f-dccc-70f4-9a95-9e1e3f3e043d"}','4d0c8b126b10bf8277a5f99b3cca8dc78e1b8be0a448bcfa3b1c7f58ba21372a');
INSERT INTO "security_events" VALUES(7,'user-added','2026-11-25T15:08:02.126005Z',NULL,'01a2133fdce17d87946d95554f8ddeba','{"about":"01a2133f-dce1-7d87-946d-95554f8ddeba","about_name":"aude","address":null,"at":"2026-11-25T15:08:02.126005Z","by":null,"by_name":null,"kind":"user-added","role":"auditor","seq":7}','faa9f3f539932d5191f2463facc231f37e57867b691bf973e47176651925853a');
INSERT INTO "security_events" VALUES(8,'token-made','2026-11-25T15:08:02.146497Z',NULL,'01a2133fdce17d87946d95554f8ddeba','{"about":"01a2133f-dce1-7d87-946d-95554f8ddeba","about_name":"aude","address":null,"at":"2026-11-25T15:08:02.146497Z","by":null,"by_name":null,"expires_on":"2027-11-25","kind":"token-made","seq":8,"token_id":"01a2133f-dce2-7a8f-9248-cf839c50984b"}','4fb353993573ce6b65c0d4c2f4764a48ea2bccff938b4e7b72368cffaf552aa5');
INSERT INTO "security_events" VALUES(9,'signed-in','2026-11-25T15:08:02.808148Z',NULL,'01a2133fdcb372a2a3414afc48c1ef43','{"about":"01a2133f-dcb3-72a2-a341-4afc48c1ef43","about_name":"vaughn","address":"testclient","at":"2026-11-25T15:08:02.808148Z","by":null,"by_name":null,"kind":"signed-in","seq":9,"with_one_time_code":false}','1dfeea47326a66cfc957e2f7ae2dc31ba79f255e8f834c368ccbb8de46a128a9');
CREATE TABLE sessions (
	token_hash VARCHAR(64) NOT NULL, 
	user_id CHAR(32) NOT NULL, 
	created_at VARCHAR(27) NOT NULL, 
	last_seen_at VARCHAR(27) NOT NULL, 
	expires_at VARCHAR(27) NOT NULL, 
	must_set_password BOOLEAN NOT NULL, 
	CONSTRAINT pk_sessions PRIMARY KEY (token_hash), 
	CONSTRAINT session_expires CHECK (expires_at > created_at), 
	CONSTRAINT session_token_hashed CHECK (length(token_hash) = 64), 
	CONSTRAINT fk_sessions_user_id FOREIGN KEY(user_id) REFERENCES users (id)
);
INSERT INTO "sessions" VALUES('2ee52561a7e5fe4da69c4bc66f8e2790987f3f1621fc99e6be503f40c90c32fb','01a2133fdcb372a2a3414afc48c1ef43','2026-11-25T15:08:02.808148Z','2026-11-25T15:08:02.808148Z','2026-11-26T03:08:02.808148Z',0);
CREATE TABLE sign_in_tries (
	bucket VARCHAR(80) NOT NULL, 
	count INTEGER NOT NULL, 
	last_at VARCHAR(27) NOT NULL, 
	CONSTRAINT pk_sign_in_tries PRIMARY KEY (bucket), 
	CONSTRAINT sign_in_tries_count CHECK (count >= 1)
);
CREATE TABLE stallions (
	id CHAR(32) NOT NULL, 
	name TEXT NOT NULL, 
	folded_name TEXT NOT NULL, 
	ueln VARCHAR(15), 
	microchip VARCHAR(15), 
	breed TEXT, 
	foaled_on DATE, 
	died_on DATE, 
	owner TEXT, 
	straw_colour TEXT, 
	low_stock_doses INTEGER, 
	reserve_doses INTEGER NOT NULL, 
	created_at VARCHAR(27) NOT NULL, 
	CONSTRAINT pk_stallions PRIMARY KEY (id), 
	CONSTRAINT low_stock_doses CHECK (low_stock_doses IS NULL OR low_stock_doses >= 0), 
	CONSTRAINT reserve_doses CHECK (reserve_doses >= 0), 
	CONSTRAINT uq_stallions_microchip UNIQUE (microchip), 
	CONSTRAINT uq_stallions_ueln UNIQUE (ueln)
);
INSERT INTO "stallions" VALUES('01a2133fddb67d3baad33331d27f4ecd','Thornbury Lantern','thornbury lantern',NULL,NULL,NULL,NULL,NULL,NULL,NULL,3,0,'2026-11-25T15:08:02.358234Z');
INSERT INTO "stallions" VALUES('01a2133fddca716b96342f39d9bf2d10','Ashen Ferryman','ashen ferryman',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,0,'2026-11-25T15:08:02.378617Z');
CREATE TABLE station (
	id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	country VARCHAR(2), 
	approval_number TEXT, 
	processing_approval_number TEXT, 
	time_zone TEXT NOT NULL, 
	mark_date_format TEXT NOT NULL, 
	level_unit TEXT NOT NULL, 
	CONSTRAINT pk_station PRIMARY KEY (id), 
	CONSTRAINT station_is_one CHECK (id = 1)
);
INSERT INTO "station" VALUES(1,'Fernhollow','IE',NULL,NULL,'Europe/Dublin','dd.mm.yy','cm');
CREATE TABLE stock (
	goblet_id CHAR(32) NOT NULL, 
	batch_id CHAR(32) NOT NULL, 
	straws INTEGER NOT NULL, 
	CONSTRAINT pk_stock PRIMARY KEY (goblet_id, batch_id), 
	CONSTRAINT stock_straws_positive CHECK (straws >= 1), 
	CONSTRAINT fk_stock_batch_id FOREIGN KEY(batch_id) REFERENCES batches (id), 
	CONSTRAINT fk_stock_goblet_id FOREIGN KEY(goblet_id) REFERENCES goblets (id)
);
INSERT INTO "stock" VALUES('01a2133fdd697096987e4e14653e32dd','01a2133fddf571faad54302bbc5b5072',5);
INSERT INTO "stock" VALUES('01a2133fdd6a70259a8e036c1de9c49b','01a2133fddf571faad54302bbc5b5072',7);
INSERT INTO "stock" VALUES('01a2133fdd697a77af5f0765aeb0347e','01a2133fde18754b904315f44e47c16b',10);
INSERT INTO "stock" VALUES('01a2133fdd6a7e48a8bee945ac8c780b','01a2133fde2c7343839a47c3a924055f',18);
INSERT INTO "stock" VALUES('01a2133fdd6b72c3bc04ecbce4bbedcf','01a2133fde18754b904315f44e47c16b',5);
CREATE TABLE straws (
	code VARCHAR(9) NOT NULL, 
	batch_id CHAR(32) NOT NULL, 
	coded BOOLEAN NOT NULL, 
	state VARCHAR(10) NOT NULL, 
	goblet_id CHAR(32), 
	left_goblet_id CHAR(32), 
	withdrawal_id CHAR(32), 
	provisional BOOLEAN NOT NULL, 
	since VARCHAR(27) NOT NULL, 
	last_seq INTEGER NOT NULL, 
	CONSTRAINT pk_straws PRIMARY KEY (code), 
	CONSTRAINT straw_place CHECK ((state = 'stored') = (goblet_id IS NOT NULL)), 
	CONSTRAINT straw_lifted_for CHECK (state <> 'lifted' OR withdrawal_id IS NOT NULL), 
	CONSTRAINT straw_state CHECK (state IN ('prepared', 'void', 'stored', 'lifted', 'used', 'tested', 'discarded', 'dispatched', 'missing')), 
	CONSTRAINT fk_straws_batch_id FOREIGN KEY(batch_id) REFERENCES batches (id), 
	CONSTRAINT fk_straws_goblet_id FOREIGN KEY(goblet_id) REFERENCES goblets (id), 
	CONSTRAINT fk_straws_last_seq FOREIGN KEY(last_seq) REFERENCES entries (seq), 
	CONSTRAINT fk_straws_left_goblet_id FOREIGN KEY(left_goblet_id) REFERENCES goblets (id)
);
INSERT INTO "straws" VALUES('S1P1Z7DKM','58c0c25f99e348198e5c0931c133f3a3',1,'prepared',NULL,NULL,NULL,0,'2026-11-25T15:08:02.401481Z',1);
INSERT INTO "straws" VALUES('S7DM6YYYY','58c0c25f99e348198e5c0931c133f3a3',1,'prepared',NULL,NULL,NULL,0,'2026-11-25T15:08:02.401481Z',1);
INSERT INTO "straws" VALUES('S7W56B47K','58c0c25f99e348198e5c0931c133f3a3',1,'prepared',NULL,NULL,NULL,0,'2026-11-25T15:08:02.401481Z',1);
INSERT INTO "straws" VALUES('SB0SN21E1','58c0c25f99e348198e5c0931c133f3a3',1,'prepared',NULL,NULL,NULL,0,'2026-11-25T15:08:02.401481Z',1);
INSERT INTO "straws" VALUES('SQGJZPHQ3','58c0c25f99e348198e5c0931c133f3a3',1,'prepared',NULL,NULL,NULL,0,'2026-11-25T15:08:02.401481Z',1);
INSERT INTO "straws" VALUES('SS467JV1F','58c0c25f99e348198e5c0931c133f3a3',1,'prepared',NULL,NULL,NULL,0,'2026-11-25T15:08:02.401481Z',1);
INSERT INTO "straws" VALUES('S0WFQBN0A','01a2133fddf571faad54302bbc5b5072',1,'used',NULL,'01a2133fdd697096987e4e14653e32dd','c83ed708a67f4a6c80aeec63f775af20',1,'2026-11-25T15:08:02.552017Z',9);
INSERT INTO "straws" VALUES('S19QZDCHJ','01a2133fddf571faad54302bbc5b5072',1,'used',NULL,'01a2133fdd697096987e4e14653e32dd','c83ed708a67f4a6c80aeec63f775af20',1,'2026-11-25T15:08:02.552017Z',9);
INSERT INTO "straws" VALUES('S1DN6AV80','01a2133fddf571faad54302bbc5b5072',1,'used',NULL,'01a2133fdd697096987e4e14653e32dd','c83ed708a67f4a6c80aeec63f775af20',1,'2026-11-25T15:08:02.552017Z',9);
INSERT INTO "straws" VALUES('S213GPDB7','01a2133fddf571faad54302bbc5b5072',1,'used',NULL,'01a2133fdd697096987e4e14653e32dd','c83ed708a67f4a6c80aeec63f775af20',1,'2026-11-25T15:08:02.552017Z',9);
INSERT INTO "straws" VALUES('S24BR3QB7','01a2133fddf571faad54302bbc5b5072',1,'used',NULL,'01a2133fdd697096987e4e14653e32dd','0bbe1e2735634183bb250aaacd5e79ed',1,'2026-11-25T15:08:02.667307Z',12);
INSERT INTO "straws" VALUES('S63EVTAPR','01a2133fddf571faad54302bbc5b5072',1,'used',NULL,'01a2133fdd697096987e4e14653e32dd','0bbe1e2735634183bb250aaacd5e79ed',1,'2026-11-25T15:08:02.667307Z',12);
INSERT INTO "straws" VALUES('S69A43QTH','01a2133fddf571faad54302bbc5b5072',1,'stored','01a2133fdd697096987e4e14653e32dd',NULL,NULL,1,'2026-11-25T15:08:02.685504Z',14);
INSERT INTO "straws" VALUES('SCSYX48ER','01a2133fddf571faad54302bbc5b5072',1,'tested',NULL,'01a2133fdd6a70259a8e036c1de9c49b',NULL,1,'2026-11-25T15:08:02.780394Z',20);
INSERT INTO "straws" VALUES('SG2DJ9VPB','01a2133fddf571faad54302bbc5b5072',1,'stored','01a2133fdd697096987e4e14653e32dd',NULL,NULL,1,'2026-11-25T15:08:02.419801Z',3);
INSERT INTO "straws" VALUES('SGWRRBCN3','01a2133fddf571faad54302bbc5b5072',1,'stored','01a2133fdd697096987e4e14653e32dd',NULL,NULL,1,'2026-11-25T15:08:02.419801Z',3);
INSERT INTO "straws" VALUES('SKA12D8B0','01a2133fddf571faad54302bbc5b5072',1,'stored','01a2133fdd697096987e4e14653e32dd',NULL,NULL,1,'2026-11-25T15:08:02.419801Z',3);
INSERT INTO "straws" VALUES('SN028DMH9','01a2133fddf571faad54302bbc5b5072',1,'stored','01a2133fdd697096987e4e14653e32dd',NULL,NULL,1,'2026-11-25T15:08:02.419801Z',3);
INSERT INTO "straws" VALUES('SNJ96XF21','01a2133fddf571faad54302bbc5b5072',1,'lifted',NULL,'01a2133fdd697096987e4e14653e32dd','0bbe1e2735634183bb250aaacd5e79ed',1,'2026-11-25T15:08:02.637950Z',13);
INSERT INTO "straws" VALUES('SPKH5S4W5','01a2133fddf571faad54302bbc5b5072',1,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,NULL,1,'2026-11-25T15:08:02.419801Z',3);
INSERT INTO "straws" VALUES('SR2FEAAC4','01a2133fddf571faad54302bbc5b5072',1,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,NULL,1,'2026-11-25T15:08:02.419801Z',3);
INSERT INTO "straws" VALUES('SRPDHVBB2','01a2133fddf571faad54302bbc5b5072',1,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,NULL,1,'2026-11-25T15:08:02.419801Z',3);
INSERT INTO "straws" VALUES('SS97ETGGQ','01a2133fddf571faad54302bbc5b5072',1,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,NULL,1,'2026-11-25T15:08:02.419801Z',3);
INSERT INTO "straws" VALUES('SX64241HJ','01a2133fddf571faad54302bbc5b5072',1,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,NULL,1,'2026-11-25T15:08:02.419801Z',3);
INSERT INTO "straws" VALUES('SXAHWYTV1','01a2133fddf571faad54302bbc5b5072',1,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,NULL,1,'2026-11-25T15:08:02.419801Z',3);
INSERT INTO "straws" VALUES('SXX1Q8GDX','01a2133fddf571faad54302bbc5b5072',1,'stored','01a2133fdd6a70259a8e036c1de9c49b',NULL,NULL,1,'2026-11-25T15:08:02.419801Z',3);
INSERT INTO "straws" VALUES('S4NBXAJ81','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd6b72c3bc04ecbce4bbedcf',NULL,NULL,1,'2026-11-25T15:08:02.745294Z',18);
INSERT INTO "straws" VALUES('S6DT45XH8','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd6b72c3bc04ecbce4bbedcf',NULL,NULL,1,'2026-11-25T15:08:02.745294Z',18);
INSERT INTO "straws" VALUES('S802K1YD2','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd6b72c3bc04ecbce4bbedcf',NULL,NULL,1,'2026-11-25T15:08:02.697044Z',15);
INSERT INTO "straws" VALUES('S88JKNN8G','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd6b72c3bc04ecbce4bbedcf',NULL,NULL,1,'2026-11-25T15:08:02.697044Z',15);
INSERT INTO "straws" VALUES('SAHV0AYR3','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd6b72c3bc04ecbce4bbedcf',NULL,NULL,1,'2026-11-25T15:08:02.697044Z',15);
INSERT INTO "straws" VALUES('SAJ8EV8XQ','01a2133fde18754b904315f44e47c16b',1,'discarded',NULL,'01a2133fdd697a77af5f0765aeb0347e',NULL,1,'2026-11-25T15:08:02.719596Z',16);
INSERT INTO "straws" VALUES('SAKP7GHCE','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,NULL,0,'2026-11-25T15:08:02.451058Z',5);
INSERT INTO "straws" VALUES('SNN1DD48Q','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,NULL,0,'2026-11-25T15:08:02.451058Z',5);
INSERT INTO "straws" VALUES('ST2383CNJ','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,NULL,0,'2026-11-25T15:08:02.451058Z',5);
INSERT INTO "straws" VALUES('SV9T3GATV','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,NULL,0,'2026-11-25T15:08:02.451058Z',5);
INSERT INTO "straws" VALUES('SVFTGNW5Y','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,NULL,0,'2026-11-25T15:08:02.451058Z',5);
INSERT INTO "straws" VALUES('SW523YJW4','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,NULL,0,'2026-11-25T15:08:02.451058Z',5);
INSERT INTO "straws" VALUES('SXD055G2R','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,NULL,0,'2026-11-25T15:08:02.451058Z',5);
INSERT INTO "straws" VALUES('SY9MYQ09P','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,NULL,0,'2026-11-25T15:08:02.451058Z',5);
INSERT INTO "straws" VALUES('SZ3232AVY','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,NULL,0,'2026-11-25T15:08:02.451058Z',5);
INSERT INTO "straws" VALUES('SZBH4NQSR','01a2133fde18754b904315f44e47c16b',1,'stored','01a2133fdd697a77af5f0765aeb0347e',NULL,NULL,0,'2026-11-25T15:08:02.451058Z',5);
INSERT INTO "straws" VALUES('S0EV03EX5','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('S4DFWMEN5','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('S605BYPX5','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('S66NPPD6Z','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('S74J36ERJ','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('SBHP3BNTV','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('SESZ1APYE','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('SFCAVRN18','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('SG7JKEFS9','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('SHH3TDJY3','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('SPWP8V8WW','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('SR5BT2CDM','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('SRK0KK8P5','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('SS6WEM7FM','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('STAAPVQ68','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('SVW1CJR8D','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('SWHM0G5C5','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
INSERT INTO "straws" VALUES('SY670VED6','01a2133fde2c7343839a47c3a924055f',1,'stored','01a2133fdd6a7e48a8bee945ac8c780b',NULL,NULL,0,'2026-11-25T15:08:02.475435Z',7);
CREATE TABLE tanks (
	id CHAR(32) NOT NULL, 
	code VARCHAR(9) NOT NULL, 
	name TEXT NOT NULL, 
	short_name VARCHAR(8) NOT NULL, 
	capacity_litres VARCHAR(40) NOT NULL, 
	rated_loss_litres_per_day VARCHAR(40) NOT NULL, 
	minimum_level_cm VARCHAR(40) NOT NULL, 
	empty_weight_kg VARCHAR(40), 
	calibration JSON NOT NULL, 
	quarantine BOOLEAN NOT NULL, 
	created_at VARCHAR(27) NOT NULL, 
	retired_at VARCHAR(27), 
	CONSTRAINT pk_tanks PRIMARY KEY (id), 
	CONSTRAINT uq_tanks_code UNIQUE (code)
);
INSERT INTO "tanks" VALUES('01a2133fdd61793694ab173355fb3239','THC585GCD','North','NORTH','35','0.18','12',NULL,'[["0", "0"], ["25", "16.5"], ["50", "35"]]',0,'2026-11-25T15:08:02.273578Z',NULL);
CREATE TABLE tokens (
	id CHAR(32) NOT NULL, 
	user_id CHAR(32) NOT NULL, 
	name TEXT NOT NULL, 
	token_hash VARCHAR(64) NOT NULL, 
	created_at VARCHAR(27) NOT NULL, 
	expires_on DATE NOT NULL, 
	revoked_at VARCHAR(27), 
	last_used_at VARCHAR(27), 
	CONSTRAINT pk_tokens PRIMARY KEY (id), 
	CONSTRAINT token_hashed CHECK (length(token_hash) = 64), 
	CONSTRAINT fk_tokens_user_id FOREIGN KEY(user_id) REFERENCES users (id), 
	CONSTRAINT token_hashes UNIQUE (token_hash)
);
INSERT INTO "tokens" VALUES('01a2133fdc9670608e4555d63ff528a3','01a2133fdc9276cbaf6832cb92a3fe45','weekly list','b8fce9b7920407e57a3a159d3f7a9aec83e31d3449dd411c84d4a5f9962c4780','2026-11-25T15:08:02.070219Z','2027-11-25',NULL,'2026-11-25T15:08:02.384631Z');
INSERT INTO "tokens" VALUES('01a2133fdcb57645bf7c916f55957824','01a2133fdcb372a2a3414afc48c1ef43','weekly list','e9411ee7103a16c130bc84f526ecf51e3e12fa8fd50a794e038fb32dc414991b','2026-11-25T15:08:02.101121Z','2027-11-25',NULL,'2026-11-25T15:08:02.514227Z');
INSERT INTO "tokens" VALUES('01a2133fdccc70f49a959e1e3f3e043d','01a2133fdcca754e99ffd60c6dfe1948','weekly list','46ed3b34298304655472202070145a1976eb632c11fda5e1d9a77379617bf7ae','2026-11-25T15:08:02.123996Z','2027-11-25',NULL,'2026-11-25T15:08:02.242038Z');
INSERT INTO "tokens" VALUES('01a2133fdce27a8f9248cf839c50984b','01a2133fdce17d87946d95554f8ddeba','weekly list','91a6a6e9513493e53b0016345bf400b061dc95c02e73746eb9ab9f10c8f656be','2026-11-25T15:08:02.146497Z','2027-11-25',NULL,'2026-11-25T15:08:02.882909Z');
CREATE TABLE users (
	id CHAR(32) NOT NULL, 
	username VARCHAR(60) NOT NULL, 
	display_name TEXT NOT NULL, 
	role TEXT NOT NULL, 
	password_hash TEXT, 
	one_time_code_hash VARCHAR(64), 
	one_time_code_expires_at VARCHAR(27), 
	disabled_at VARCHAR(27), 
	created_at VARCHAR(27) NOT NULL, 
	CONSTRAINT pk_users PRIMARY KEY (id), 
	CONSTRAINT user_role CHECK (role IN ('technician', 'vet', 'manager', 'auditor')), 
	CONSTRAINT user_name_filled CHECK (username <> ''), 
	CONSTRAINT user_code_expires CHECK ((one_time_code_hash IS NULL) = (one_time_code_expires_at IS NULL)), 
	CONSTRAINT user_names UNIQUE (username)
);
INSERT INTO "users" VALUES('01a2133fdc9276cbaf6832cb92a3fe45','tilda','Tilda','technician','$argon2id$v=19$m=19456,t=2,p=1$FNREAoW62PdfosG2a/guRA$NoxMb+UomAC/Gn/u90C0OTZRh7hFT68lPKJk/g1vpCo',NULL,NULL,NULL,'2026-11-25T15:08:02.036329Z');
INSERT INTO "users" VALUES('01a2133fdcb372a2a3414afc48c1ef43','vaughn','Vaughn','vet','$argon2id$v=19$m=19456,t=2,p=1$xHxeoN5Vbba3An9SG12AJw$++i+xNOG3n7EgJqUTAUzuI6OqabqWndWpY8lZgJoRYA',NULL,NULL,NULL,'2026-11-25T15:08:02.072953Z');
INSERT INTO "users" VALUES('01a2133fdcca754e99ffd60c6dfe1948','mirren','Mirren','manager','$argon2id$v=19$m=19456,t=2,p=1$teT29uCInrIacHEhe53hgw$me2Igw4HlosYUBNBhb8igeDMdbABEHHVEH4DCxUe+uo',NULL,NULL,NULL,'2026-11-25T15:08:02.102997Z');
INSERT INTO "users" VALUES('01a2133fdce17d87946d95554f8ddeba','aude','Aude','auditor','$argon2id$v=19$m=19456,t=2,p=1$HCCoY2gPH9VNw/0XuXv/ng$83CB8GmKYtHmT9ZYZpl6tiK7MOQW5Gjp/0dAFZwMKNo',NULL,NULL,NULL,'2026-11-25T15:08:02.126005Z');
CREATE TABLE withdrawals (
	id CHAR(32) NOT NULL, 
	stallion_id CHAR(32) NOT NULL, 
	mare_id CHAR(32) NOT NULL, 
	doses INTEGER NOT NULL, 
	rule JSON NOT NULL, 
	override_reason TEXT, 
	release_reserve TEXT, 
	occurred_at VARCHAR(27) NOT NULL, 
	recorded_at VARCHAR(27) NOT NULL, 
	by_id CHAR(32) NOT NULL, 
	by_name TEXT NOT NULL, 
	CONSTRAINT pk_withdrawals PRIMARY KEY (id), 
	CONSTRAINT withdrawal_doses_positive CHECK (doses >= 1), 
	CONSTRAINT fk_withdrawals_mare_id FOREIGN KEY(mare_id) REFERENCES mares (id), 
	CONSTRAINT fk_withdrawals_stallion_id FOREIGN KEY(stallion_id) REFERENCES stallions (id)
);
INSERT INTO "withdrawals" VALUES('c83ed708a67f4a6c80aeec63f775af20','01a2133fddb67d3baad33331d27f4ecd','01a2133fddd47ff399de90313856aa50',1,'{"kind": "straws", "straws": 4}',NULL,NULL,'2026-11-25T15:08:02.518193Z','2026-11-25T15:08:02.518193Z','01a2133fdcb372a2a3414afc48c1ef43','Vaughn');
INSERT INTO "withdrawals" VALUES('0bbe1e2735634183bb250aaacd5e79ed','01a2133fddb67d3baad33331d27f4ecd','01a2133fdddc71eeaa0835a07ef89e79',1,'{"kind": "straws", "straws": 4}',NULL,NULL,'2026-11-25T15:08:02.637950Z','2026-11-25T15:08:02.637950Z','01a2133fdcb372a2a3414afc48c1ef43','Vaughn');
CREATE INDEX ix_mares_folded_name ON mares (folded_name);
CREATE INDEX ix_record_changes_kind ON record_changes (kind);
CREATE INDEX ix_record_changes_record_id ON record_changes (record_id);
CREATE INDEX ix_stallions_folded_name ON stallions (folded_name);
CREATE UNIQUE INDEX tank_names_in_use ON tanks (name) WHERE retired_at IS NULL;
CREATE UNIQUE INDEX tank_short_names_in_use ON tanks (short_name) WHERE retired_at IS NULL;
CREATE INDEX ix_batches_stallion_id ON batches (stallion_id);
CREATE UNIQUE INDEX canister_numbers_in_use ON canisters (tank_id, number) WHERE retired_at IS NULL;
CREATE INDEX ix_canisters_tank_id ON canisters (tank_id);
CREATE INDEX sessions_of_user ON sessions (user_id);
CREATE INDEX tokens_of_user ON tokens (user_id);
CREATE INDEX ix_withdrawals_mare_id ON withdrawals (mare_id);
CREATE INDEX ix_withdrawals_stallion_id ON withdrawals (stallion_id);
CREATE INDEX ix_entries_batch_id ON entries (batch_id);
CREATE INDEX ix_entries_by_id ON entries (by_id);
CREATE INDEX ix_entries_withdrawal_id ON entries (withdrawal_id);
CREATE UNIQUE INDEX goblet_addresses_in_use ON goblets (address) WHERE retired_at IS NULL;
CREATE INDEX ix_goblets_canister_id ON goblets (canister_id);
CREATE INDEX ix_holds_batch_id ON holds (batch_id);
CREATE INDEX ix_inseminations_withdrawal_id ON inseminations (withdrawal_id);
CREATE INDEX ix_post_thaw_results_batch_id ON post_thaw_results (batch_id);
CREATE INDEX ix_outcomes_insemination_id ON outcomes (insemination_id);
CREATE INDEX ix_stock_batch_id ON stock (batch_id);
CREATE INDEX ix_straws_withdrawal_id ON straws (withdrawal_id);
CREATE INDEX straws_of_batch ON straws (batch_id, state, goblet_id, code);
CREATE UNIQUE INDEX lines_of_straw ON lines (straw_code, entry_seq);
CREATE TRIGGER entries_no_update BEFORE UPDATE ON entries BEGIN SELECT RAISE(ABORT, 'entries is append-only'); END;
CREATE TRIGGER entries_no_delete BEFORE DELETE ON entries BEGIN SELECT RAISE(ABORT, 'entries is append-only'); END;
CREATE TRIGGER entries_no_replace BEFORE INSERT ON entries WHEN EXISTS (SELECT 1 FROM entries WHERE (seq = NEW.seq) OR (id = NEW.id) OR (hash = NEW.hash)) BEGIN SELECT RAISE(ABORT, 'entries is append-only'); END;
CREATE TRIGGER lines_no_update BEFORE UPDATE ON lines BEGIN SELECT RAISE(ABORT, 'lines is append-only'); END;
CREATE TRIGGER lines_no_delete BEFORE DELETE ON lines BEGIN SELECT RAISE(ABORT, 'lines is append-only'); END;
CREATE TRIGGER lines_no_replace BEFORE INSERT ON lines WHEN EXISTS (SELECT 1 FROM lines WHERE (entry_seq = NEW.entry_seq AND number = NEW.number) OR (straw_code = NEW.straw_code AND entry_seq = NEW.entry_seq)) BEGIN SELECT RAISE(ABORT, 'lines is append-only'); END;
CREATE TRIGGER answers_no_update BEFORE UPDATE ON answers BEGIN SELECT RAISE(ABORT, 'answers is append-only'); END;
CREATE TRIGGER answers_no_delete BEFORE DELETE ON answers BEGIN SELECT RAISE(ABORT, 'answers is append-only'); END;
CREATE TRIGGER answers_no_replace BEFORE INSERT ON answers WHEN EXISTS (SELECT 1 FROM answers WHERE (id = NEW.id)) BEGIN SELECT RAISE(ABORT, 'answers is append-only'); END;
CREATE TRIGGER record_changes_no_update BEFORE UPDATE ON record_changes BEGIN SELECT RAISE(ABORT, 'record_changes is append-only'); END;
CREATE TRIGGER record_changes_no_delete BEFORE DELETE ON record_changes BEGIN SELECT RAISE(ABORT, 'record_changes is append-only'); END;
CREATE TRIGGER record_changes_no_replace BEFORE INSERT ON record_changes WHEN EXISTS (SELECT 1 FROM record_changes WHERE (id = NEW.id)) BEGIN SELECT RAISE(ABORT, 'record_changes is append-only'); END;
CREATE TRIGGER security_events_no_update BEFORE UPDATE ON security_events BEGIN SELECT RAISE(ABORT, 'security_events is append-only'); END;
CREATE TRIGGER security_events_no_delete BEFORE DELETE ON security_events BEGIN SELECT RAISE(ABORT, 'security_events is append-only'); END;
CREATE TRIGGER security_events_no_replace BEFORE INSERT ON security_events WHEN EXISTS (SELECT 1 FROM security_events WHERE (seq = NEW.seq) OR (hash = NEW.hash)) BEGIN SELECT RAISE(ABORT, 'security_events is append-only'); END;
CREATE TRIGGER dose_rules_no_update BEFORE UPDATE ON dose_rules BEGIN SELECT RAISE(ABORT, 'dose_rules is append-only'); END;
CREATE TRIGGER dose_rules_no_delete BEFORE DELETE ON dose_rules BEGIN SELECT RAISE(ABORT, 'dose_rules is append-only'); END;
CREATE TRIGGER dose_rules_no_replace BEFORE INSERT ON dose_rules WHEN EXISTS (SELECT 1 FROM dose_rules WHERE (id = NEW.id) OR (stallion_id = NEW.stallion_id AND number = NEW.number)) BEGIN SELECT RAISE(ABORT, 'dose_rules is append-only'); END;
CREATE TRIGGER post_thaw_results_no_update BEFORE UPDATE ON post_thaw_results BEGIN SELECT RAISE(ABORT, 'post_thaw_results is append-only'); END;
CREATE TRIGGER post_thaw_results_no_delete BEFORE DELETE ON post_thaw_results BEGIN SELECT RAISE(ABORT, 'post_thaw_results is append-only'); END;
CREATE TRIGGER post_thaw_results_no_replace BEFORE INSERT ON post_thaw_results WHEN EXISTS (SELECT 1 FROM post_thaw_results WHERE (id = NEW.id)) BEGIN SELECT RAISE(ABORT, 'post_thaw_results is append-only'); END;
CREATE TRIGGER outcomes_no_update BEFORE UPDATE ON outcomes BEGIN SELECT RAISE(ABORT, 'outcomes is append-only'); END;
CREATE TRIGGER outcomes_no_delete BEFORE DELETE ON outcomes BEGIN SELECT RAISE(ABORT, 'outcomes is append-only'); END;
CREATE TRIGGER outcomes_no_replace BEFORE INSERT ON outcomes WHEN EXISTS (SELECT 1 FROM outcomes WHERE (id = NEW.id)) BEGIN SELECT RAISE(ABORT, 'outcomes is append-only'); END;
COMMIT;
